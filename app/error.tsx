"use client";

import { useEffect, useState } from "react";
import { ERROR_TEXT } from "@/lib/format/error-text";
import { Button, ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { APP_WORDS } from "./_components/words";

const words = APP_WORDS.error;

const UNKNOWN = {
  title: words.pageCouldNotBeShown,
  next: words.whatWasAlreadyRecorded,
};
const OF_DATABASE: Readonly<Record<string, { readonly title: string; readonly next: string }>> = {
  away: {
    title: words.databaseDoesNotAnswer,
    next: words.whatWasAlreadyRecordedIsKept,
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
    <PageFrame head={<PageHead title={words.shellgate} />}>
      <ErrorNotice
        title={why.title}
        keys={
          <>
            <Button kind="go" onClick={() => retry()}>
              {words.tryAgain}
            </Button>
            <ButtonLink href="/">{words.chooseWorkArea}</ButtonLink>
          </>
        }
      >
        <p>{why.next}</p>
      </ErrorNotice>
    </PageFrame>
  );
}
