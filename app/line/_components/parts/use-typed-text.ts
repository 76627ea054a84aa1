import { useCallback, useEffect, useLayoutEffect, useRef, useState } from "react";
import { type Seen, TypedAhead } from "@/lib/offline/device/typed-ahead";

/** Keys of this tab that no field took yet. */
export const typedAhead = new TypedAhead();

export type TypedText = {
  readonly text: string;
  readonly setText: (text: string) => void;
  /** Typed before the field was shown, for something else: it was not taken. */
  readonly early: string;
};

/** The text of a field that takes keys: begins with what was typed ahead, and hands on what stands in it when it goes. */
export function useTypedText(seen: Seen): TypedText {
  const [text, setShown] = useState("");
  const [early, setEarly] = useState("");
  const current = useRef("");
  const setText = useCallback((next: string) => {
    current.current = next;
    setShown(next);
    setEarly("");
  }, []);
  useLayoutEffect(() => {
    const taken = typedAhead.takeFor(seen);
    current.current = taken.text;
    setShown(taken.text);
    setEarly(taken.early);
    return () => typedAhead.lead(current.current, seen);
  }, [seen]);
  return { text, setText, early };
}

/** A field on the screen takes the keys by itself. */
const FIELD = "[data-takes-keys]";
const OTHER_FIELDS = "input:not([type=radio]), textarea, select, dialog";

/**
 * Keeps the keys that are struck while no field is there to take them, between two screens.
 *
 * @param seen - what is on the screen, or about to be; null where keys mean nothing
 */
export function useTypedAhead(seen: Seen | null, onEnter: (text: string, seen: Seen) => void): void {
  useEffect(() => {
    if (seen === null) return;
    const take = (event: KeyboardEvent): void => {
      const target = event.target instanceof Element ? event.target : null;
      if (event.defaultPrevented || event.isComposing || event.ctrlKey || event.metaKey || event.altKey) return;
      if (target?.closest(OTHER_FIELDS) || document.querySelector(`${FIELD}, dialog[open]`) !== null) return;
      if (event.key.length === 1 && event.key !== " ") typedAhead.add(event.key, seen);
      else if (typedAhead.text() === "") return;
      else if (event.key === "Backspace") typedAhead.back();
      else if (event.key === "Enter" || event.key === "Tab") onEnter(typedAhead.takeFor(seen).text, seen);
      else return;
      event.preventDefault();
    };
    document.addEventListener("keydown", take);
    return () => document.removeEventListener("keydown", take);
  }, [seen, onEnter]);
}
