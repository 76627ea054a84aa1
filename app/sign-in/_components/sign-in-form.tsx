"use client";

import { useActionState, useId, useState } from "react";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { Field } from "@/lib/ui/field";
import { signInAction } from "../actions";
import { SIGN_IN_WORDS } from "../words";
import styles from "../sign-in.module.css";

const words = SIGN_IN_WORDS.form;

/** E-mail and password; the e-mail stays in its field when the answer is no. */
export function SignInForm({ next }: Readonly<{ next: string }>) {
  const [result, submit, isPending] = useActionState(signInAction, null);
  const id = useId();
  const [email, setEmail] = useState("");
  const error = result?.ok === false ? result.error : null;
  return (
    <form action={submit} className={styles.form}>
      <Field id={`${id}-email`} look="framed" label={words.eMail}>
        {(control) => (
          <input
            {...control}
            name="email"
            value={email}
            onChange={(event) => setEmail(event.target.value)}
            type="email"
            autoComplete="username"
            autoCapitalize="none"
            spellCheck={false}
            maxLength={200}
            required
            autoFocus
            aria-invalid={error !== null}
          />
        )}
      </Field>
      <Field id={`${id}-password`} look="framed" label={words.password}>
        {(control) => (
          <input
            {...control}
            name="password"
            type="password"
            autoComplete="current-password"
            maxLength={128}
            required
            aria-invalid={error !== null}
          />
        )}
      </Field>
      <input type="hidden" name="next" value={next} />
      {error ? (
        <ErrorNotice
          title={error.code === "too-many-requests" ? words.tooManyTries : words.notSignedIn}
          problems={error.fields ?? []}
          {...(error.eventId === undefined ? {} : { reference: error.eventId })}
        >
          <p>{error.message}</p>
        </ErrorNotice>
      ) : null}
      <Button type="submit" kind="go" size="touch" wide keyHint="Enter" disabled={isPending}>
        {isPending ? words.signingIn : words.signIn}
      </Button>
    </form>
  );
}
