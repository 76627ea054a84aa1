/** What was on the screen while something was typed: a field for scans, a number, a word, or the zero check of a gauge. */
export type Seen = "scan" | "reading" | "word" | `zero ${string}`;

type Run = { readonly text: string; readonly seen: Seen };

/**
 * Scans and numbers follow one another, so that a gauge and a scanner need not wait for the screen. A zero check and a word
 * answer only what was seen: a reading must not pass for what the gauge shows in its ring, nor one word for another.
 */
function answers(typed: Seen, field: Seen): boolean {
  if (field === "word") return false;
  return field === typed || (!field.startsWith("zero ") && !typed.startsWith("zero ") && typed !== "word");
}

/** Keys struck while no field was on the screen, and what stood half typed in a field that went: kept for the next field. */
export class TypedAhead {
  #runs: readonly Run[] = [];
  readonly #listeners = new Set<() => void>();

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };

  /** All that is kept. */
  readonly text = (): string => this.#runs.map(({ text }) => text).join("");

  #set(runs: readonly Run[]): void {
    this.#runs = runs.filter(({ text }) => text !== "");
    for (const listener of this.#listeners) listener();
  }

  add(text: string, seen: Seen): void {
    if (text !== "") this.#set([...this.#runs, { text, seen }]);
  }

  /** What stood in a field that goes: typed before everything that was kept since. */
  lead(text: string, seen: Seen): void {
    if (text !== "") this.#set([{ text, seen }, ...this.#runs]);
  }

  /** Takes the last character back. */
  back(): void {
    const last = this.#runs.at(-1);
    if (last !== undefined) this.#set([...this.#runs.slice(0, -1), { ...last, text: last.text.slice(0, -1) }]);
  }

  /**
   * Takes what is kept, for a field that is on the screen now.
   *
   * @returns `text` that answers it, and `early` that was typed for something else
   */
  takeFor(field: Seen): { readonly text: string; readonly early: string } {
    const runs = this.#runs;
    if (runs.length > 0) this.#set([]);
    const joined = (own: boolean) =>
      runs
        .filter(({ seen }) => answers(seen, field) === own)
        .map(({ text }) => text)
        .join("");
    return { text: joined(true), early: joined(false) };
  }
}
