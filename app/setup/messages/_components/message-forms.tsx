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
import { MESSAGE_SETUP_WORDS } from "../../words/messages";
import styles from "../sending.module.css";

const words = MESSAGE_SETUP_WORDS.forms;

/** Sends a mail to whoever presses it, and says what the mail server answered. */
export function TryMail() {
  const { result, isReady, isPending, send } = useAction<string>();
  return (
    <div className={styles.tried}>
      <Button disabled={!isReady} onClick={() => send(() => tryMailServerAction({}))}>
        {words.sendMeMailToTry}
      </Button>
      <ActionAnswer result={isPending ? null : result} refused={words.notSent}>
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
      label={words.takeAway}
      what={words.mailServer(host)}
      refused={words.notTakenAway}
      ask={() => removeMailServerAction({})}
    />
  );
}

export function RemoveSubscription({ id, place, what }: Readonly<{ id: string | null; place: number; what: string }>) {
  return (
    <QuietKey
      label={words.takeAwayHeading}
      what={what}
      refused={words.notTakenAway}
      ask={() => removeSubscriptionAction(id === null ? { place } : { id })}
    />
  );
}

export function MailAgain({ id, what }: Readonly<{ id: string; what: string }>) {
  return (
    <QuietKey
      label={words.tryAgain}
      what={what}
      refused={words.notTriedAgain}
      ask={() => sendMailAgainAction({ id })}
    />
  );
}

export function Resend({ id, what }: Readonly<{ id: string; what: string }>) {
  return (
    <QuietKey
      label={words.sendAgain}
      what={what}
      refused={words.notSentAgain}
      ask={() => resendDeliveryAction({ id })}
    />
  );
}

function Secret({ secret }: Readonly<{ secret: string }>) {
  return <span className={styles.secret}>{words.copySecretNow(<code className="mono">{secret}</code>)}</span>;
}

/** Makes another secret, which is shown once. */
export function RotateSecret({ id }: Readonly<{ id: string }>) {
  const { result, isReady, send } = useAction<{ secret: string }>();
  return (
    <div className={styles.tried}>
      <Button disabled={!isReady} onClick={() => send(() => rotateSecretAction({ id }))}>
        {words.makeNewSecret}
      </Button>
      <ActionAnswer result={result} refused={words.notMade}>
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
      <Field id={`${id}-name`} label={words.whatIsFor} problem={problemOf("name")}>
        {(control) => <input {...control} name="name" required maxLength={80} autoComplete="off" />}
      </Field>
      <Field id={`${id}-url`} label={words.address} problem={problemOf("url")} hint={words.httpsEachCallIsMade}>
        {(control) => <input {...control} name="url" type="url" required className="mono" autoComplete="off" />}
      </Field>
      <Choices legend={words.tellWhen} problem={problemOf("kinds")}>
        {kinds.map(({ value, label }) => (
          <Tick key={value} control={<input type="checkbox" name="kinds[]" value={value} defaultChecked />}>
            {label}
          </Tick>
        ))}
      </Choices>
      <Field id={`${id}-line`} label={words.ofLine} problem={problemOf("lineId")}>
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
        {words.addWebhook}
      </Button>
      <ActionAnswer result={result} refused={words.notAdded} unmarked={[]}>
        {result?.ok ? <Secret secret={result.data.secret} /> : null}
      </ActionAnswer>
    </form>
  );
}
