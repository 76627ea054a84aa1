"use client";

import { useState, useTransition, type FormEvent } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { TOKEN_SCOPES } from "@/lib/schemas/token";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { useAwake } from "@/lib/ui/use-awake";
import { createTokenAction, revokeTokenAction } from "../actions";
import styles from "../people.module.css";

const SCOPE_WORDS = {
  "readings:write": "send readings",
  "gate:read": "ask the gate",
  "gate:ship": "ship frames",
  "results:read": "read results, geometry and analysis",
} as const;

/** Makes a token for a program; it is shown once. What was typed stays when it is refused. */
export function TokenForm() {
  const isAwake = useAwake();
  const [result, setResult] = useState<ActionResult<{ token: string }> | null>(null);
  const [isPending, startTransition] = useTransition();

  function handleSubmit(event: FormEvent<HTMLFormElement>) {
    event.preventDefault();
    const form = event.currentTarget;
    const data = new FormData(form);
    startTransition(async () => {
      const answer = await createTokenAction(null, data);
      setResult(answer);
      if (answer.ok) form.reset();
    });
  }
  return (
    <form onSubmit={handleSubmit} className={styles.form}>
      <label className={styles.field}>
        <span>what it is for</span>
        <input name="name" required maxLength={80} autoComplete="off" />
      </label>
      <fieldset className={styles.checks}>
        <legend>it may</legend>
        {TOKEN_SCOPES.map((scope) => (
          <label key={scope}>
            <input type="checkbox" name="scopes[]" value={scope} /> {SCOPE_WORDS[scope]}
          </label>
        ))}
      </fieldset>
      <Button type="submit" disabled={isPending || !isAwake}>
        Make a token
      </Button>
      {result?.ok ? (
        <p className={styles.token} role="status">
          Copy it now, it is shown this once: <code className="mono">{result.data.token}</code>
        </p>
      ) : null}
      {result?.ok === false ? (
        <ErrorNotice title="Not made" problems={result.error.fields ?? []}>
          <p>{result.error.message}</p>
        </ErrorNotice>
      ) : null}
    </form>
  );
}

export function RevokeForm({ tokenId, name }: Readonly<{ tokenId: string; name: string }>) {
  const isAwake = useAwake();
  const [problem, setProblem] = useState<string | null>(null);
  const [isPending, startTransition] = useTransition();
  const handleClick = () =>
    startTransition(async () => {
      const answer = await revokeTokenAction({ tokenId });
      setProblem(answer.ok ? null : answer.error.message);
    });
  return (
    <>
      <Button kind="quiet" disabled={isPending || !isAwake} aria-label={`Revoke ${name}`} onClick={handleClick}>
        Revoke
      </Button>
      {problem === null ? null : (
        <ErrorNotice title="Not revoked">
          <p>{problem}</p>
        </ErrorNotice>
      )}
    </>
  );
}
