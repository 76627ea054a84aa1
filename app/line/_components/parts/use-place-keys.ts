"use client";

import { useEffect, useRef, useState, type KeyboardEvent } from "react";

/** Keys that follow one another faster than a hand strikes them come of a gauge or a scanner, ms (common practice, no source). */
const BURST_MS = 80;

/**
 * One number key chooses, by its place. What a gauge or a scanner sends meanwhile chooses nothing, neither by its digits nor by
 * its Enter: a key counts only when no other follows at once.
 *
 * @param onPlace - the place chosen, from 0
 * @returns `burst` where something was sent that was not taken
 */
export function usePlaceKeys(onPlace: (place: number) => void) {
  const [burst, setBurst] = useState(false);
  const struck = useRef({ shownAt: 0, at: Number.NEGATIVE_INFINITY, timer: 0 });
  useEffect(() => {
    const keys = struck.current;
    keys.shownAt = performance.now();
    return () => clearTimeout(keys.timer);
  }, []);

  function onKeyDown(event: KeyboardEvent<HTMLElement>): void {
    const isKey = event.key.length === 1 || event.key === "Enter";
    if (!isKey || event.target instanceof HTMLInputElement || event.ctrlKey || event.metaKey || event.altKey) return;
    const { at, shownAt } = struck.current;
    struck.current.at = event.timeStamp;
    // A gauge that ends its number with two Enters sends the second one here.
    if (event.key === "Enter" && event.timeStamp - shownAt < BURST_MS) return event.preventDefault();
    if (event.timeStamp - at < BURST_MS) {
      event.preventDefault();
      clearTimeout(struck.current.timer);
      setBurst(true);
      return;
    }
    if (!/^[1-9]$/.test(event.key)) return;
    event.preventDefault();
    struck.current.timer = window.setTimeout(() => onPlace(Number(event.key) - 1), BURST_MS);
  }
  return { burst, onKeyDown };
}
