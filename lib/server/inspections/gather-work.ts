import "server-only";
import { isHurried, standBack } from "../base/take-turns";

type Waiting<Place, Item, Outcome> = {
  readonly place: Place;
  readonly isFew: boolean;
  readonly items: readonly Item[];
  readonly resolve: (outcomes: Map<Item, Outcome>) => void;
  readonly reject: (error: unknown) => void;
};

/** More than this at once would make the first of them wait too long. */
const MOST_TOGETHER = 500;

/** Items of calls of many that run together while somebody stands at a station. */
export const MOST_BESIDE_FEW = 6;
/** Who sent few items is likely to send more for so long, ms. */
const BESIDE_FEW_MS = 2_000;

/** Takes out of a queue what runs together next: calls of few, or calls of many, in the order in which they came. */
function nextTogether<Call extends { readonly isFew: boolean; readonly items: readonly unknown[] }>(
  queue: Call[],
  areFew: boolean,
  most: number,
): Call[] {
  const taken: Call[] = [];
  let items = 0;
  for (const call of queue) {
    if (call.isFew !== areFew) continue;
    if (taken.length > 0 && items + call.items.length > most) break;
    taken.push(call);
    items += call.items.length;
  }
  const left = queue.filter((call) => !taken.includes(call));
  queue.splice(0, queue.length, ...left);
  return taken;
}

export type Gathered<Place, Item, Outcome> = {
  /** @param isFew - true where somebody stands at a station for these: they wait for no more of the others than one part */
  readonly gather: (place: Place, items: readonly Item[], isFew: boolean) => Promise<Map<Item, Outcome>>;
  /** Whether calls of few came for a key of late: then a call of many is better made in parts of MOST_BESIDE_FEW. */
  readonly isBesideFew: (place: Place) => boolean;
};

/**
 * Gathers calls that have to run one after another anyway: while one runs, what arrives for the same key waits, and then runs
 * together: calls of few and calls of many by turns, so that a frame does not wait for a hundred twice; and less of the many
 * at once while calls of few come. A gathered run that fails is repeated call by call, so that nobody fails for somebody else's item.
 *
 * @param keyOf - calls of one key never run at the same time in this process
 * @param run - does the work of some items and gives an outcome for each
 * @param endsAll - whether an error is nobody's own: then it ends everybody who waits, instead of each one after the other
 */
export function gatherWork<Place, Item, Outcome>(
  keyOf: (place: Place) => string,
  run: (place: Place, items: readonly Item[]) => Promise<Map<Item, Outcome>>,
  endsAll: (error: unknown) => boolean = () => false,
): Gathered<Place, Item, Outcome> {
  const lastFewMs = new Map<string, number>();
  const isBesideFew = (key: string): boolean =>
    performance.now() - (lastFewMs.get(key) ?? Number.NEGATIVE_INFINITY) < BESIDE_FEW_MS;
  const queues = new Map<string, Waiting<Place, Item, Outcome>[]>();
  /** Called when a call of few comes for a key whose queue is worked off. */
  const whenFewCome = new Map<string, () => void>();
  const areFewWaiting = (queue: readonly Waiting<Place, Item, Outcome>[]) => queue.some(({ isFew }) => isFew);

  /** Somebody at a station is about to call: a part of many that began now would make him wait for it. */
  async function awaitFew(key: string): Promise<void> {
    const come = new Promise<void>((resolve) => whenFewCome.set(key, resolve));
    await Promise.race([come, standBack()]);
    whenFewCome.delete(key);
  }

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
      if (!areFew && isHurried() && !areFewWaiting(queue)) {
        await awaitFew(key);
        areFew = areFewWaiting(queue);
      }
      const next = nextTogether(queue, areFew, areFew || !isBesideFew(key) ? MOST_TOGETHER : MOST_BESIDE_FEW);
      areFew = !areFew;
      if (next.length > 0) await runTogether(next);
    }
    queues.delete(key);
  }

  const gather = (place: Place, items: readonly Item[], isFew: boolean): Promise<Map<Item, Outcome>> =>
    new Promise((resolve, reject) => {
      const key = keyOf(place);
      if (isFew) lastFewMs.set(key, performance.now());
      const queue = queues.get(key);
      const call = { place, items, isFew, resolve, reject };
      if (queue) {
        queue.push(call);
        if (isFew) whenFewCome.get(key)?.();
        return;
      }
      queues.set(key, [call]);
      void drain(key);
    });
  return { gather, isBesideFew: (place) => isBesideFew(keyOf(place)) };
}
