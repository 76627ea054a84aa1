"use client";

import { useActionState, type ReactNode } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { ROLES } from "@/lib/schemas/people";
import { TOKEN_SCOPES } from "@/lib/schemas/token";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { createPersonAction, createTokenAction, deactivatePersonAction, revokeTokenAction } from "../actions";
import styles from "../people.module.css";

const SCOPE_WORDS = {
  "readings:write": "send readings",
  "gate:read": "ask the gate",
  "gate:ship": "ship frames",
  "results:read": "read results, geometry and analysis",
} as const;

function Answer({ result, done }: Readonly<{ result: ActionResult<unknown> | null; done: string }>) {
  if (result?.ok === false)
    return (
      <ErrorNotice title="Not done" problems={result.error.fields ?? []}>
        <p>{result.error.message}</p>
      </ErrorNotice>
    );
  return <StatusLine>{result?.ok ? done : ""}</StatusLine>;
}

function Field({ label, children }: Readonly<{ label: string; children: ReactNode }>) {
  return (
    <label className={styles.field}>
      <span>{label}</span>
      {children}
    </label>
  );
}

/** Adds a person: with e-mail and password to sign in, with a badge code to be named at a shared station. */
export function PersonForm() {
  const [result, submit, isPending] = useActionState(createPersonAction, null);
  return (
    <form action={submit} className={styles.form}>
      <Field label="name">
        <input name="name" required maxLength={80} autoComplete="off" />
      </Field>
      <fieldset className={styles.checks}>
        <legend>roles</legend>
        {ROLES.map((role) => (
          <label key={role}>
            <input type="checkbox" name="roles[]" value={role} /> {role.replaceAll("_", " ")}
          </label>
        ))}
      </fieldset>
      <Field label="badge code, if they measure">
        <input name="badgeCode" className="mono" maxLength={40} autoComplete="off" />
      </Field>
      <Field label="e-mail, if they sign in">
        <input name="email" type="email" maxLength={200} autoComplete="off" />
      </Field>
      <Field label="first password, 12 characters or more">
        <input name="password" type="password" maxLength={128} autoComplete="new-password" />
      </Field>
      <Button type="submit" kind="go" disabled={isPending}>
        Add this person
      </Button>
      <Answer result={result} done="Added, and recorded in the journal." />
    </form>
  );
}

export function DeactivateForm({ personId, name }: Readonly<{ personId: string; name: string }>) {
  const [result, submit, isPending] = useActionState(deactivatePersonAction, null);
  return (
    <form action={submit}>
      <input type="hidden" name="personId" value={personId} />
      <Button type="submit" kind="quiet" disabled={isPending} aria-label={`Deactivate ${name}`}>
        Deactivate
      </Button>
      {result?.ok === false ? <Answer result={result} done="" /> : null}
    </form>
  );
}

/** Makes a token for a program; it is shown once. */
export function TokenForm() {
  const [result, submit, isPending] = useActionState(createTokenAction, null);
  return (
    <form action={submit} className={styles.form}>
      <Field label="what it is for">
        <input name="name" required maxLength={80} autoComplete="off" />
      </Field>
      <fieldset className={styles.checks}>
        <legend>it may</legend>
        {TOKEN_SCOPES.map((scope) => (
          <label key={scope}>
            <input type="checkbox" name="scopes[]" value={scope} /> {SCOPE_WORDS[scope]}
          </label>
        ))}
      </fieldset>
      <Button type="submit" kind="go" disabled={isPending}>
        Make a token
      </Button>
      {result?.ok ? (
        <p className={styles.token} role="status">
          Copy it now, it is shown this once: <code className="mono">{result.data.token}</code>
        </p>
      ) : (
        <Answer result={result} done="" />
      )}
    </form>
  );
}

export function RevokeForm({ tokenId, name }: Readonly<{ tokenId: string; name: string }>) {
  const [result, submit, isPending] = useActionState(revokeTokenAction, null);
  return (
    <form action={submit}>
      <input type="hidden" name="tokenId" value={tokenId} />
      <Button type="submit" kind="quiet" disabled={isPending} aria-label={`Revoke ${name}`}>
        Revoke
      </Button>
      {result?.ok === false ? <Answer result={result} done="" /> : null}
    </form>
  );
}
