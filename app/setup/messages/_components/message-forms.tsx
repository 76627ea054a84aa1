"use client";

import { useId } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { useAction } from "@/lib/ui/use-action";
import {
  addWebhookAction,
  removeMailServerAction,
  removeSubscriptionAction,
  resendDeliveryAction,
  rotateSecretAction,
  sendMailAgainAction,
  tryMailServerAction,
} from "../actions";
import styles from "../sending.module.css";

/** Sends a mail to whoever presses it, and says what the mail server answered. */
export function TryMail() {
  const { result, isReady, isPending, send } = useAction<string>();
  return (
    <div className={styles.tried}>
      <Button disabled={!isReady} onClick={() => send(() => tryMailServerAction({}))}>
        Send me a mail to try it
      </Button>
      <ActionAnswer result={isPending ? null : result} refused="Not sent">
        {result?.ok ? result.data : null}
      </ActionAnswer>
    </div>
  );
}

type QuietKeyProps = Readonly<{
  label: string;
  /** What the key is about, for who hears it only. */
  what: string;
  refused: string;
  ask: () => Promise<ActionResult<unknown>>;
}>;

function QuietKey({ label, what, refused, ask }: QuietKeyProps) {
  const { result, isReady, send } = useAction<unknown>();
  return (
    <>
      <Button kind="quiet" disabled={!isReady} aria-label={`${label}: ${what}`} onClick={() => send(ask)}>
        {label}
      </Button>
      {result?.ok === false ? <ActionAnswer result={result} refused={refused} /> : null}
    </>
  );
}

export function RemoveMailServer({ host }: Readonly<{ host: string }>) {
  return (
    <QuietKey
      label="Take it away"
      what={`mail server ${host}`}
      refused="Not taken away"
      ask={() => removeMailServerAction({})}
    />
  );
}

export function RemoveSubscription({ id, place, what }: Readonly<{ id: string | null; place: number; what: string }>) {
  return (
    <QuietKey
      label="Take away"
      what={what}
      refused="Not taken away"
      ask={() => removeSubscriptionAction(id === null ? { place } : { id })}
    />
  );
}

export function MailAgain({ id, what }: Readonly<{ id: string; what: string }>) {
  return <QuietKey label="Try again" what={what} refused="Not tried again" ask={() => sendMailAgainAction({ id })} />;
}

export function Resend({ id, what }: Readonly<{ id: string; what: string }>) {
  return <QuietKey label="Send again" what={what} refused="Not sent again" ask={() => resendDeliveryAction({ id })} />;
}

function Secret({ secret }: Readonly<{ secret: string }>) {
  return (
    <span className={styles.secret}>
      Copy the secret now, it is shown this once: <code className="mono">{secret}</code>
    </span>
  );
}

/** Makes another secret, which is shown once. */
export function RotateSecret({ id }: Readonly<{ id: string }>) {
  const { result, isReady, send } = useAction<{ secret: string }>();
  return (
    <div className={styles.tried}>
      <Button disabled={!isReady} onClick={() => send(() => rotateSecretAction({ id }))}>
        Make a new secret
      </Button>
      <ActionAnswer result={result} refused="Not made">
        {result?.ok ? <Secret secret={result.data.secret} /> : null}
      </ActionAnswer>
    </div>
  );
}

type Option = Readonly<{ value: string; label: string }>;

/** Adds a webhook; its secret is shown once. What was typed stays when it is refused. */
export function WebhookForm({ kinds, lines }: Readonly<{ kinds: readonly Option[]; lines: readonly Option[] }>) {
  const id = useId();
  const { result, error, isReady, submits } = useAction<{ secret: string }>();
  const problemOf = (path: string) => error?.fields?.find((one) => one.path === path)?.message;
  return (
    <form
      className={styles.form}
      onSubmit={submits(
        (fields) => addWebhookAction(null, fields),
        (form) => form.reset(),
      )}
    >
      <Field id={`${id}-name`} label="what it is for" problem={problemOf("name")}>
        {(control) => <input {...control} name="name" required maxLength={80} autoComplete="off" />}
      </Field>
      <Field
        id={`${id}-url`}
        label="address"
        problem={problemOf("url")}
        hint="https://; each call is made to an address that was looked up and checked for it"
      >
        {(control) => <input {...control} name="url" type="url" required className="mono" autoComplete="off" />}
      </Field>
      <Choices legend="tell it when" problem={problemOf("kinds")}>
        {kinds.map(({ value, label }) => (
          <Tick key={value} control={<input type="checkbox" name="kinds[]" value={value} defaultChecked />}>
            {label}
          </Tick>
        ))}
      </Choices>
      <Field id={`${id}-line`} label="of line" problem={problemOf("lineId")}>
        {(control) => (
          <select {...control} name="lineId">
            {lines.map(({ value, label }) => (
              <option key={value} value={value}>
                {label}
              </option>
            ))}
          </select>
        )}
      </Field>
      <Button type="submit" disabled={!isReady}>
        Add the webhook
      </Button>
      <ActionAnswer result={result} refused="Not added" unmarked={[]}>
        {result?.ok ? <Secret secret={result.data.secret} /> : null}
      </ActionAnswer>
    </form>
  );
}
