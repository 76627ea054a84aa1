"use client";

import { useActionState } from "react";
import { signInAction } from "../actions";
import { SIGN_IN_WORDS } from "../words";
import styles from "../sign-in.module.css";

const words = SIGN_IN_WORDS.demo;

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
      <h2 id="demo-heading">{words.orAsOneOfInvented(<span>{words.password(password)}</span>)}</h2>
      <ul>
        {people.map(({ email, name, role }) => (
          <li key={email}>
            <form action={submit}>
              <input type="hidden" name="email" value={email} />
              <input type="hidden" name="password" value={password} />
              <input type="hidden" name="next" value={next} />
              <button type="submit" disabled={isPending}>
                <span className="visuallyHidden">{words.signInAs} </span>
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
