/** A part of the program that the first screen does not need: loaded once when it is asked for, and again where that failed. */
export class LaterPart<T> {
  readonly #import: () => Promise<T>;
  readonly #listeners = new Set<() => void>();
  #loaded: T | null = null;
  #loading: Promise<T> | null = null;

  constructor(load: () => Promise<T>) {
    this.#import = load;
  }

  /** The part, where it is there already: what uses it then need not wait. */
  readonly now = (): T | null => this.#loaded;

  /** Calls the listener once the part is there. */
  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  };

  readonly load = (): Promise<T> => {
    this.#loading ??= this.#import().then(
      (part) => {
        this.#loaded = part;
        for (const listener of this.#listeners) listener();
        return part;
      },
      (error: unknown) => {
        this.#loading = null;
        throw new Error("a part of the program is not on this device yet, and the server does not give it", {
          cause: error,
        });
      },
    );
    return this.#loading;
  };
}
