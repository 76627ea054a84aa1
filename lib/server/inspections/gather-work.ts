import "server-only";

type Waiting<Place, Item, Outcome> = {
  readonly place: Place;
  readonly items: readonly Item[];
  readonly resolve: (outcomes: Map<Item, Outcome>) => void;
  readonly reject: (error: unknown) => void;
};

/** More than this at once would make the first of them wait too long. */
const MOST_TOGETHER = 500;
/** Items of a call that waits for no larger one: somebody stands at a station for each of these. */
const FEW = 5;

/** Takes out of a queue what runs together next: those of few items, or those of many, in the order in which they came. */
function nextTogether<Call extends { readonly items: readonly unknown[] }>(queue: Call[], areFew: boolean): Call[] {
  const taken: Call[] = [];
  let items = 0;
  for (const call of queue) {
    if (call.items.length <= FEW !== areFew) continue;
    if (taken.length > 0 && items + call.items.length > MOST_TOGETHER) break;
    taken.push(call);
    items += call.items.length;
  }
  const left = queue.filter((call) => !taken.includes(call));
  queue.splice(0, queue.length, ...left);
  return taken;
}

/**
 * Gathers calls that have to run one after another anyway: while one runs, what arrives for the same key waits, and then runs
 * together: calls of few items and calls of many by turns, so that a frame does not wait for a hundred twice. A gathered run that fails is repeated call by call, so that nobody fails for somebody else's item.
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
    let areFew = true;
    for (let queue = queues.get(key) ?? []; queue.length > 0; queue = queues.get(key) ?? []) {
      const next = nextTogether(queue, areFew);
      areFew = !areFew;
      if (next.length > 0) await runTogether(next);
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
