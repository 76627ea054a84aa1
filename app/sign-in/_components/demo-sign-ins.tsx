"use client";

import { useActionState } from "react";
import { signInAction } from "../actions";
import styles from "../sign-in.module.css";

type DemoPerson = { readonly email: string; readonly name: string; readonly role: string };

/** The invented people of the demo plant, one key each. Shown on this machine only. */
export function DemoSignIns({
  people,
  password,
  next,
}: Readonly<{ people: readonly DemoPerson[]; password: string; next: string }>) {
  const [result, submit, isPending] = useActionState(signInAction, null);
  return (
    <section className={styles.demo} aria-labelledby="demo-heading">
      <h2 id="demo-heading">
        Or as one of the invented people <span>password {password}</span>
      </h2>
      <ul>
        {people.map(({ email, name, role }) => (
          <li key={email}>
            <form action={submit}>
              <input type="hidden" name="email" value={email} />
              <input type="hidden" name="password" value={password} />
              <input type="hidden" name="next" value={next} />
              <button type="submit" disabled={isPending}>
                <span className="visuallyHidden">Sign in as </span>
                <strong>{role}</strong>
                <span>{name}</span>
              </button>
            </form>
          </li>
        ))}
      </ul>
      {result?.ok === false ? <p role="alert">{result.error.message}</p> : null}
    </section>
  );
}
