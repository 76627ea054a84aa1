"use client";

import { useEffect, useState } from "react";
import { ERROR_TEXT } from "@/lib/format/error-text";
import { Button, ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";

const UNKNOWN = {
  title: "This page could not be shown",
  next: "What was already recorded is kept, and readings on this device stay on it. Try again; if it happens again, tell the person who looks after the program what you were doing.",
};
const OF_DATABASE: Readonly<Record<string, { readonly title: string; readonly next: string }>> = {
  away: {
    title: "The database does not answer",
    next: "What was already recorded is kept, and readings on this device stay on it and are sent when it is back. Try again in a moment.",
  },
  full: ERROR_TEXT["storage-full"],
};

/** Asks the server how it is, since a page's own error tells its reader nothing. */
async function whyNot(): Promise<{ readonly title: string; readonly next: string }> {
  try {
    const health = (await (await fetch("/api/v1/health", { cache: "no-store" })).json()) as { database?: string };
    return OF_DATABASE[health.database ?? ""] ?? UNKNOWN;
  } catch {
    return ERROR_TEXT.unavailable;
  }
}

export default function ErrorPage({ retry }: Readonly<{ error: unknown; retry: () => void }>) {
  const [why, setWhy] = useState(UNKNOWN);
  useEffect(() => void whyNot().then(setWhy), []);
  return (
    <PageFrame head={<PageHead title="Shellgate" />}>
      <ErrorNotice
        title={why.title}
        keys={
          <>
            <Button kind="go" onClick={() => retry()}>
              Try again
            </Button>
            <ButtonLink href="/">Choose a work area</ButtonLink>
          </>
        }
      >
        <p>{why.next}</p>
      </ErrorNotice>
    </PageFrame>
  );
}
