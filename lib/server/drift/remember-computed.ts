import "server-only";

const MOST_KEPT = 300;
const kept = new Map<string, unknown>();

/**
 * A long calculation that many screens ask for: computed once as long as what it rests on stays the same.
 *
 * @param key - names everything that the result depends on
 */
export function rememberComputed<T>(key: string, compute: () => T): T {
  if (kept.has(key)) return kept.get(key) as T;
  const value = compute();
  kept.set(key, value);
  if (kept.size > MOST_KEPT) kept.delete(kept.keys().next().value ?? "");
  return value;
}

/** Lets go of a calculation that failed, so that the next who asks begins it anew. */
export function forgetComputed(key: string): void {
  kept.delete(key);
}
