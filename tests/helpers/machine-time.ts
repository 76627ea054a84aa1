// What a test says about time has to hold on a machine that has other work, too: CPU time does not grow by waiting for a
// core, and elapsed time is told beside how crowded the machine was meanwhile.

/** CPU time that this process spends on some work without pauses, ms. */
export function cpuTime(work: () => unknown): number {
  const from = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(from);
  return (user + system) / 1000;
}

/** Less than this is as much the machine as the work, ms. */
const FLOOR_MS = 5;

/**
 * How many times as long one large piece of work takes as so many small ones of the same size together: about 1 where time grows
 * with the size, and the number of times where it grows with its square. Both take equally long where it is linear, and turns are
 * taken, so that what else the machine does falls on both.
 */
export function growth(times: number, small: () => unknown, large: () => unknown): number {
  let [together, once] = [Infinity, Infinity];
  for (let turn = 0; turn < 4; turn += 1) {
    together = Math.min(
      together,
      cpuTime(() => {
        for (let k = 0; k < times; k += 1) small();
      }),
    );
    once = Math.min(once, cpuTime(large));
  }
  return once / Math.max(FLOOR_MS, together);
}

/** Time of a sample of crowding, ms of CPU, and the pause between two. */
const SAMPLE_MS = 40;
const PAUSE_MS = 200;

/** How many times longer than its CPU time some work takes now: 1 where a core is free. */
function crowding(): number {
  const [from, used] = [performance.now(), process.cpuUsage()];
  let cpu = 0;
  while (cpu < SAMPLE_MS) {
    const { user, system } = process.cpuUsage(used);
    cpu = (user + system) / 1000;
  }
  return Math.max(1, (performance.now() - from) / cpu);
}

/**
 * Elapsed time of work that other processes do, ms, as it would be on a quiet machine: divided by how many times longer
 * everything took meanwhile, as samples in this process show it. The work itself is in the samples where it takes every core.
 */
export async function quietTime<T>(work: () => Promise<T>): Promise<{ readonly value: T; readonly ms: number }> {
  const samples = [crowding()];
  const sampling = setInterval(() => samples.push(crowding()), PAUSE_MS);
  const from = performance.now();
  try {
    const value = await work();
    const elapsed = performance.now() - from;
    return { value, ms: (elapsed * samples.length) / samples.reduce((sum, one) => sum + one, 0) };
  } finally {
    clearInterval(sampling);
  }
}
