"use client";

import { useSyncExternalStore } from "react";

/** Below this width the clock stands under the section: both beside each other could not be read. */
const NARROW = "(max-width: 640px)";

function subscribe(listener: () => void): () => void {
  const query = window.matchMedia(NARROW);
  query.addEventListener("change", listener);
  return () => query.removeEventListener("change", listener);
}

/** Whether the screen is a phone's: then one arrangement of the drawing is made and not both. */
export function useNarrow(): boolean {
  return useSyncExternalStore(
    subscribe,
    () => window.matchMedia(NARROW).matches,
    () => false,
  );
}
