"use client";

import { Button, ButtonLink } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { PageFrame } from "@/lib/ui/page-frame";

export default function ErrorPage({ retry }: Readonly<{ error: unknown; retry: () => void }>) {
  return (
    <PageFrame>
      <ErrorNotice
        title="This page could not be shown"
        keys={
          <>
            <Button kind="go" onClick={() => retry()}>
              Try again
            </Button>
            <ButtonLink href="/">Choose a work area</ButtonLink>
          </>
        }
      >
        <p>
          What was already recorded is kept, and readings on this device stay on it. Try again; if it happens again,
          tell the person who looks after the program what you were doing.
        </p>
      </ErrorNotice>
    </PageFrame>
  );
}
