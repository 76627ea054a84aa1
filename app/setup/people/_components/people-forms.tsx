"use client";

import { useId } from "react";
import { TOKEN_SCOPES } from "@/lib/schemas/token";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { useAction } from "@/lib/ui/use-action";
import { createTokenAction, revokeTokenAction } from "../actions";
import { PEOPLE_WORDS } from "../../words/people";
import styles from "../people.module.css";

const words = PEOPLE_WORDS.forms;

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
      <Field id={id} label={words.whatIsFor}>
        {(control) => <input {...control} name="name" required maxLength={80} autoComplete="off" />}
      </Field>
      <Choices legend={words.itMay}>
        {TOKEN_SCOPES.map((scope) => (
          <Tick key={scope} control={<input type="checkbox" name="scopes[]" value={scope} />}>
            {words.scopeWords[scope]}
          </Tick>
        ))}
      </Choices>
      <Button type="submit" disabled={!isReady}>
        {words.makeToken}
      </Button>
      <ActionAnswer result={result} refused={words.notMade}>
        {result?.ok ? (
          <span className={styles.token}>
            {words.copyNow(<code className="mono">{result.data.token}</code>)}
            <br />
            {words.ofWall(<code className="mono">{`/wall/${result.data.token}`}</code>)}
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
        aria-label={words.revoke(name)}
        onClick={() => send(() => revokeTokenAction({ tokenId }))}
      >
        {words.revokeHeading}
      </Button>
      {result?.ok === false ? <ActionAnswer result={result} refused={words.notRevoked} /> : null}
    </>
  );
}
