"use client";

import { PaperRequest } from "./paper-request";

/** A stream as a document, with as many frames as are shown. */
export function StreamPaper({ streamId, frames }: Readonly<{ streamId: string; frames: number }>) {
  return <PaperRequest about={() => ({ kind: "stream", streamId, frames })} />;
}
