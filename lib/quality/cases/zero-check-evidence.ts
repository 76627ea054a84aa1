import type { CaseKind, CaseLine, Evidence } from "./case";

/** Neither for nor against do checks count for more than this, ln: a ring may be dirty. A choice, no source. */
const MOST = 12;

/**
 * What the zero checks after a change say of a gauge that it may come from: a gauge that moved shows on the ring what the seats
 * showed, one that did not shows nothing.
 *
 * @param changeUm - size of the change in the seats, µm; a frame for a trend
 * @returns ln of the likelihood as a change of the gauge over that of none; null where there is no check after the start, or the gauge is
 *   not known
 */
export function zeroCheckEvidence(
  line: CaseLine,
  of: {
    readonly gauge: string | null;
    readonly start: number;
    readonly kind: CaseKind;
    readonly last: number;
    readonly now: number;
  },
  changeUm: number,
): { readonly ln: number; readonly evidence: Evidence } | null {
  const { gauge, start, kind, last, now } = of;
  if (gauge === null) return null;
  const own = line.zeroChecks.filter((check) => check.gauge === gauge && check.place <= now + 1);
  const before = own.filter(({ place }) => place <= start);
  const after = own.filter(({ place }) => place > start);
  // Those within the change and the first one after it: then the gauge may have been set right.
  const asked = [
    ...after.filter(({ place }) => place <= last),
    ...after.filter(({ place }) => place > last).slice(0, 1),
  ];
  const latest = asked.at(-1);
  if (latest === undefined) return null;
  const usual = before.reduce((sum, { deviationUm }) => sum + deviationUm / before.length, 0);
  let sum = 0;
  for (const { place, deviationUm, sdUm } of asked) {
    const expected = kind === "trend" ? changeUm * (Math.min(place - 1, last) - start + 1) : changeUm;
    const shown = deviationUm - usual;
    const variance = sdUm ** 2 * (1 + (before.length > 0 ? 1 / before.length : 0));
    sum += (shown ** 2 - (shown - expected) ** 2) / (2 * variance);
  }
  const ln = Math.max(-MOST, Math.min(MOST, sum));
  return {
    ln,
    evidence: { code: "zero check", isFor: ln > 0, place: latest.place, deviationUm: latest.deviationUm },
  };
}
