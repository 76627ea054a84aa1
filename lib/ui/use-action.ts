"use client";

import { unstable_rethrow } from "next/navigation";
import { useRef, useState, useTransition, type FormEvent } from "react";
import type { ActionError, ActionResult } from "../schemas/action-result";
import { uuidV7 } from "../schemas/identifier";
import { useAwake } from "./use-awake";
import { UI_WORDS } from "./words";

const words = UI_WORDS.useAction;

const NO_ANSWER: ActionError = {
  code: "unavailable",
  message: words.serverDidNotAnswer,
};

/** One server action as a screen uses it: what it answered last, and how it is asked. */
export type UsedAction<T> = Readonly<{
  /** The last answer; null before the first. */
  result: ActionResult<T> | null;
  /** Why the last try was refused; null where it was not. */
  error: ActionError | null;
  /** It may be asked: the page's program runs, and no answer is awaited. */
  isReady: boolean;
  isPending: boolean;
  /** Takes the last answer away, as where something was changed since. */
  forget: () => void;
  /** Asks. An answer that never comes is a refusal in words. `done` is called with what came of it. */
  send: (ask: Asks<T>, done?: (data: T) => void) => void;
  /** A form's onSubmit. What was typed is gone only where `done` resets it; the first wrong field gets the focus. */
  submits: (
    ask: (fields: FormData, key: string) => Promise<ActionResult<T>>,
    done?: (form: HTMLFormElement) => void,
  ) => (event: FormEvent<HTMLFormElement>) => void;
}>;

/** `key` is the same until an answer came, so that a second try after a lost one is known as the same, and only that. */
type Asks<T> = (key: string) => Promise<ActionResult<T>>;

/** Transition, answer and refusal of one server action. */
export function useAction<T>(): UsedAction<T> {
  const isAwake = useAwake();
  const key = useRef<string | null>(null);
  const [result, setResult] = useState<ActionResult<T> | null>(null);
  const [isPending, startTransition] = useTransition();

  const ask = (asks: Asks<T>, answered: (answer: ActionResult<T>) => void): void =>
    startTransition(async () => {
      key.current ??= uuidV7();
      let answer: ActionResult<T>;
      try {
        answer = await asks(key.current);
        key.current = null;
      } catch (error) {
        unstable_rethrow(error);
        answer = { ok: false, error: NO_ANSWER };
      }
      setResult(answer);
      answered(answer);
    });

  return {
    result,
    error: result?.ok === false ? result.error : null,
    isReady: isAwake && !isPending,
    isPending,
    forget: () => setResult(null),
    send: (asks, done) =>
      ask(asks, (answer) => {
        if (answer.ok) done?.(answer.data);
      }),
    submits: (asks, done) => (event) => {
      event.preventDefault();
      const form = event.currentTarget;
      const fields = new FormData(form);
      ask(
        (one) => asks(fields, one),
        (answer) => {
          if (answer.ok) done?.(form);
          else focusFirstWrong(form);
        },
      );
    },
  };
}

/** Puts the focus on the first field that is marked as wrong, once it is marked. */
export function focusFirstWrong(form: HTMLFormElement): void {
  requestAnimationFrame(() => form.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
}

/** A typed text of a form, without the blanks round it; empty where the form has no such field. */
export function textOf(fields: FormData, name: string): string {
  return String(fields.get(name) ?? "").trim();
}
