"use client";

import { useSyncExternalStore } from "react";

const never = () => () => undefined;

/**
 * Whether the page's program runs already. Until then a form must not be sent: the browser would send it by itself, with what
 * was typed in the address.
 */
export function useAwake(): boolean {
  return useSyncExternalStore(
    never,
    () => true,
    () => false,
  );
}
