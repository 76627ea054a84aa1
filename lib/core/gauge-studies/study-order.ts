import { CoreError } from "../errors";
import { createSeededGenerator } from "../numerics/seeded-generator";

/** Sizes of a study. */
export type StudySize = Readonly<{ parts: number; inspectors: number; trials: number }>;

/**
 * The order in which readings of a study are asked for: trial by trial, each inspector gets all parts in a drawn order of his
 * own, so that nobody meets a part at the place where it was before.
 *
 * @param size - all integers >= 1
 * @param seed - integer >= 0; the same seed gives the same order
 * @returns integer[parts x inspectors x trials], places (part * inspectors + inspector) * trials + trial, each once
 * @throws CoreError invalid-argument
 * Method: Fisher-Yates shuffle of the parts for each trial and inspector
 * Source: Durstenfeld 1964, Algorithm 235: random permutation, Communications of the ACM 7(7) 420
 */
export function studyOrder({ parts, inspectors, trials }: StudySize, seed: number): number[] {
  for (const [name, count] of Object.entries({ parts, inspectors, trials }))
    if (!Number.isSafeInteger(count) || count < 1)
      throw new CoreError("invalid-argument", `studyOrder: ${name} must be an integer of at least 1; got ${count}`);
  const generator = createSeededGenerator(seed);
  const order: number[] = [];
  for (let trial = 0; trial < trials; trial++)
    for (let inspector = 0; inspector < inspectors; inspector++) {
      const drawn = Array.from({ length: parts }, (_, part) => part);
      for (let step = 0; step < parts - 1; step++) {
        const other = step + Math.floor(generator.uniform() * (parts - step));
        [drawn[step], drawn[other]] = [drawn[other]!, drawn[step]!];
      }
      for (const part of drawn) order.push((part * inspectors + inspector) * trials + trial);
    }
  return order;
}
