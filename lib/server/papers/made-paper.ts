import "server-only";
import type { Viewer } from "../auth/viewer";

/** A document that is there. */
export type MadePaper = { readonly fileName: string; readonly content: Buffer };

export type PaperRun = {
  readonly viewer: Viewer;
  readonly plantName: string;
  readonly now: Date;
  /** Says which share is made, 0 to 1. */
  readonly tell: (share: number) => void;
};

/** A name that every file system takes. */
export const fileNameOf = (...parts: readonly string[]): string =>
  `${parts.join("-").replace(/[^A-Za-z0-9.-]/g, "_")}.pdf`;
