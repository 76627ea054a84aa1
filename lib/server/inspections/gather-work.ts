import "server-only";

type Waiting<Place, Item, Outcome> = {
  readonly place: Place;
  readonly items: readonly Item[];
  readonly resolve: (outcomes: Map<Item, Outcome>) => void;
  readonly reject: (error: unknown) => void;
};

/** More than this at once would make the first of them wait too long. */
const MOST_TOGETHER = 500;

/**
 * Gathers calls that have to run one after another anyway: while one runs, what arrives for the same key waits, and then runs
 * together. A gathered run that fails is repeated call by call, so that nobody fails for somebody else's item.
 *
 * @param keyOf - calls of one key never run at the same time in this process
 * @param run - does the work of some items and gives an outcome for each
 * @param endsAll - whether an error is nobody's own: then it ends everybody who waits, instead of each one after the other
 */
export function gatherWork<Place, Item, Outcome>(
  keyOf: (place: Place) => string,
  run: (place: Place, items: readonly Item[]) => Promise<Map<Item, Outcome>>,
  endsAll: (error: unknown) => boolean = () => false,
): (place: Place, items: readonly Item[]) => Promise<Map<Item, Outcome>> {
  const queues = new Map<string, Waiting<Place, Item, Outcome>[]>();

  /** Everybody who waits for a key now; who comes later begins anew. */
  function takeWaiting(place: Place): readonly Waiting<Place, Item, Outcome>[] {
    return queues.get(keyOf(place))?.splice(0) ?? [];
  }

  async function runTogether(calls: readonly Waiting<Place, Item, Outcome>[]): Promise<void> {
    const newest = calls.at(-1);
    if (!newest) return;
    try {
      const outcomes = await run(
        newest.place,
        calls.flatMap((call) => call.items),
      );
      for (const { items, resolve } of calls) {
        const own = new Map<Item, Outcome>();
        for (const item of items) if (outcomes.has(item)) own.set(item, outcomes.get(item) as Outcome);
        resolve(own);
      }
    } catch (error) {
      if (endsAll(error)) for (const call of [...calls, ...takeWaiting(newest.place)]) call.reject(error);
      else if (calls.length === 1) newest.reject(error);
      else for (const call of calls) await runTogether([call]);
    }
  }

  async function drain(key: string): Promise<void> {
    for (let queue = queues.get(key) ?? []; queue.length > 0; queue = queues.get(key) ?? []) {
      let taken = 0;
      let items = 0;
      while (taken < queue.length && (taken === 0 || items + (queue[taken]?.items.length ?? 0) <= MOST_TOGETHER)) {
        items += queue[taken]?.items.length ?? 0;
        taken += 1;
      }
      await runTogether(queue.splice(0, taken));
    }
    queues.delete(key);
  }

  return (place, items) =>
    new Promise((resolve, reject) => {
      const key = keyOf(place);
      const queue = queues.get(key);
      const call = { place, items, resolve, reject };
      if (queue) {
        queue.push(call);
        return;
      }
      queues.set(key, [call]);
      void drain(key);
    });
}
