"use client";

import { useId } from "react";
import { TOKEN_SCOPES } from "@/lib/schemas/token";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { useAction } from "@/lib/ui/use-action";
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
  const id = useId();
  const { result, isReady, submits } = useAction<{ token: string }>();
  return (
    <form
      onSubmit={submits(
        (fields) => createTokenAction(null, fields),
        (form) => form.reset(),
      )}
      className={styles.form}
    >
      <Field id={id} label="what it is for">
        {(control) => <input {...control} name="name" required maxLength={80} autoComplete="off" />}
      </Field>
      <Choices legend="it may">
        {TOKEN_SCOPES.map((scope) => (
          <Tick key={scope} control={<input type="checkbox" name="scopes[]" value={scope} />}>
            {SCOPE_WORDS[scope]}
          </Tick>
        ))}
      </Choices>
      <Button type="submit" disabled={!isReady}>
        Make a token
      </Button>
      <ActionAnswer result={result} refused="Not made">
        {result?.ok ? (
          <span className={styles.token}>
            Copy it now, it is shown this once: <code className="mono">{result.data.token}</code>
          </span>
        ) : null}
      </ActionAnswer>
    </form>
  );
}

export function RevokeForm({ tokenId, name }: Readonly<{ tokenId: string; name: string }>) {
  const { result, isReady, send } = useAction<unknown>();
  return (
    <>
      <Button
        kind="quiet"
        disabled={!isReady}
        aria-label={`Revoke ${name}`}
        onClick={() => send(() => revokeTokenAction({ tokenId }))}
      >
        Revoke
      </Button>
      {result?.ok === false ? <ActionAnswer result={result} refused="Not revoked" /> : null}
    </>
  );
}
