import type { ReadingKind } from "@/lib/core/metrology/reading-name";
import { formatDay, formatTimeOfDay } from "@/lib/format/date-text";
import { formatDeviationUm } from "@/lib/format/number-text";
import { latestShiftStart } from "@/lib/format/shift-start";
import { calibrationInForce } from "@/lib/core/metrology/calibration-in-force";
import { zeroCheckText } from "@/lib/format/zero-check-words";
import { zeroCheckDue, type ZeroCheckNeed, type ZeroCheckRule } from "@/lib/quality/zero-check-due";
import type { StationGauge, StationKit, StationPlan } from "@/lib/schemas/station-package";
import type { DeviceSettings, LineState } from "./line-state";
import { type GaugeUse, UNUSED } from "./zero-check";

export const GAUGE_KINDS = ["bore", "sweep", "face", "width", "plug", "bar"] as const satisfies readonly ReadingKind[];

/** Until when the calibration in force at a moment holds, ms since 1970; null where there is none. */
export function calibratedUntilMs({ calibrations, calibratedUntil }: StationGauge, atMs: number): number | null {
  if (calibrations !== undefined) return calibrationInForce(calibrations, atMs)?.dueMs ?? null;
  return calibratedUntil === null ? null : Date.parse(calibratedUntil);
}

/** The last day on which the calibration in force holds, in the plant's time zone; null where there is none. */
export function calibratedUntilText(
  gauge: StationGauge,
  atMs: number,
  kit: Pick<StationKit, "zone"> | null,
): string | null {
  const untilMs = calibratedUntilMs(gauge, atMs);
  return untilMs === null ? null : formatDay(untilMs, { zone: kit?.zone ?? "UTC" });
}

/** Whether the gauge is out of calibration at a moment. */
export function isOverdue(gauge: StationGauge, atMs: number): boolean {
  const untilMs = calibratedUntilMs(gauge, atMs);
  return untilMs === null || untilMs < atMs;
}

/**
 * Gauge of each kind of reading at this station, as chosen, or the first that is not overdue. One whose last zero check failed
 * comes last, also where it was chosen.
 */
export function gaugesAtHand(kit: StationKit | null, settings: DeviceSettings): Partial<Record<ReadingKind, string>> {
  const chosen: Partial<Record<ReadingKind, string>> = {};
  for (const kind of GAUGE_KINDS) {
    const all = (kit?.gauges ?? []).filter((gauge) => gauge.kind === kind);
    const trusted = all.filter((gauge) => gauge.zeroFailed !== true);
    const usable = trusted.length > 0 ? trusted : all;
    const gauge =
      usable.find((one) => one.key === settings.gauges[kind]) ?? usable.find((one) => !one.overdue) ?? usable[0];
    if (gauge) chosen[kind] = gauge.key;
  }
  return chosen;
}

/** Why the readings of a gauge prove nothing for a release, in words without a full stop; null where they do. */
export function gaugeDoubtText(
  gauge: StationGauge,
  nowMs: number,
  { decimal, zone }: { readonly decimal: DeviceSettings["decimal"]; readonly zone: string | undefined },
): string | null {
  const { zero } = gauge;
  if (gauge.zeroFailed === true) {
    const drift = zero?.lastDriftUm ?? null;
    return drift === null
      ? "its last zero check failed"
      : `its last zero check was ${formatDeviationUm(drift, 1, decimal)} off`;
  }
  if (!isOverdue(gauge, nowMs)) return null;
  const untilMs = calibratedUntilMs(gauge, nowMs);
  return untilMs === null
    ? "it was never calibrated"
    : `its calibration ran out on ${formatDay(untilMs, { zone: zone ?? "UTC" })}`;
}

/** Gauges at hand whose readings prove nothing, but for those that somebody wants to use all the same. */
export function doubtfulGauges(
  { kit, settings, acceptedGauges }: Pick<LineState, "kit" | "settings" | "acceptedGauges">,
  nowMs: number,
  kinds: ReadonlySet<string>,
): { readonly key: string; readonly doubt: string }[] {
  const atHand = gaugesAtHand(kit, settings);
  return (kit?.gauges ?? []).flatMap((gauge) => {
    const { key, kind } = gauge;
    if (!kinds.has(kind) || atHand[kind] !== key) return [];
    const doubt = gaugeDoubtText(gauge, nowMs, { decimal: settings.decimal, zone: kit?.zone });
    return doubt === null || acceptedGauges[key] === doubt ? [] : [{ key, doubt }];
  });
}

/** How the zero of a gauge stands, short; null where it has no setting ring. */
export function zeroText(gauge: StationGauge, zone: string, decimal: DeviceSettings["decimal"]): string | null {
  const { zero } = gauge;
  if (zero === null || zero === undefined) return null;
  if (zero.lastAt === null) return "never zero-checked";
  const off = zero.lastDriftUm === null ? "" : `, ${formatDeviationUm(zero.lastDriftUm, 1, decimal)}`;
  return `${gauge.zeroFailed === true ? "zero check failed" : "zero checked"} ${formatDay(zero.lastAt, { zone })} ${formatTimeOfDay(zero.lastAt, zone)}${off}`;
}

/** The rule of the plan; where it says nothing, shifts begin when its first-off does. */
export function zeroRuleOf(plan: StationPlan | null): ZeroCheckRule {
  const { zeroCheck, firstOff } = plan?.settings ?? {};
  if (zeroCheck !== undefined) return zeroCheck;
  return firstOff?.each === "shift" ? { starts: firstOff.starts } : {};
}

/** A gauge that has to be shown its setting ring now. */
export type DueZeroCheck = Pick<ZeroCheckNeed, "occasion"> & {
  readonly gauge: string;
  /** Short, without a full stop. */
  readonly why: string;
};

/**
 * Zero checks that are due of the gauges at hand which a plan needs, in the order of the kinds.
 *
 * @param kinds - kinds of reading that are asked; all where left out
 */
export function dueZeroChecks(
  kit: StationKit | null,
  settings: DeviceSettings,
  use: Readonly<Record<string, GaugeUse>>,
  plan: StationPlan | null,
  nowMs: number,
  kinds: ReadonlySet<string> = new Set(GAUGE_KINDS),
): DueZeroCheck[] {
  if (kit === null) return [];
  const rule = zeroRuleOf(plan);
  const shiftStartMs =
    rule.starts === undefined ? null : latestShiftStart(new Date(nowMs), rule.starts, kit.zone ?? "UTC").getTime();
  const atHand = gaugesAtHand(kit, settings);
  return GAUGE_KINDS.flatMap((kind) => {
    const gauge = kinds.has(kind) ? kit.gauges.find((one) => one.key === atHand[kind]) : undefined;
    if (!gauge?.zero) return [];
    const { frames, knocked, batchEnded } = use[gauge.key] ?? UNUSED;
    const lastMs = gauge.zero.lastAt === null ? null : Date.parse(gauge.zero.lastAt);
    const need = zeroCheckDue({ lastMs, framesSince: frames, knocked, batchEnded }, rule, { nowMs, shiftStartMs });
    if (need === null) return [];
    return [{ occasion: need.occasion, why: zeroCheckText(need.why), gauge: gauge.key }];
  });
}
