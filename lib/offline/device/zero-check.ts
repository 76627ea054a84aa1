import { toDecimals, toSignificant } from "@/lib/core/numerics/decimal-digits";
import { zeroErrorUm } from "@/lib/core/metrology/comparator";
import { formatFixed, formatMm } from "@/lib/format/number-text";
import { parseDecimal, withDecimalSign } from "@/lib/format/parse-decimal";
import type { RecordZeroCheck } from "@/lib/schemas/gauge";
import type { StationGauge, StationKit } from "@/lib/schemas/station-package";

/** What this device did with a gauge since its last zero check, and since the last good one. */
export type GaugeUse = {
  readonly frames: number;
  readonly knocked: boolean;
  readonly batchEnded: boolean;
  /** Frames measured here since its last good zero check, oldest first. */
  readonly serials: readonly string[];
};

export const UNUSED: GaugeUse = { frames: 0, knocked: false, batchEnded: false, serials: [] };

/** A zero check as this device made and judged it; the server's answer is the record. */
export type DeviceZeroCheck = {
  /** Key of the check, UUID version 7. */
  readonly id: string;
  readonly gauge: string;
  readonly ring: string;
  readonly certifiedMm: number;
  readonly limitUm: number;
  readonly readingMm: number;
  /** What the gauge showed less what the ring is, µm. */
  readonly driftUm: number;
  readonly passed: boolean;
  readonly occasion: RecordZeroCheck["occasion"];
  /** The device's clock, ms since 1970, and how far it is ahead of the server's where that is known. */
  readonly deviceAt: number;
  readonly skewMs: number | null;
  readonly deviceId: string;
  readonly inspectorCode: string | null;
  /** The last good check that this device knows of, ISO 8601; null where there was none. */
  readonly since: string | null;
  /** Frames that this device measured with the gauge since then. */
  readonly serials: readonly string[];
};

/** No comparator drifts so far: the wrong ring, or a slip of the key. */
const MOST_DRIFT_MM = 0.5;
/** Drifts come from decimal millimetres: beyond the limit only by more than the rounding of the subtraction, µm. */
const ROUNDING_UM = 1e-6;
/** Deviations are read to a tenth of a µm at best: more decimals of them are those of a size in mm. */
const SIZE_DECIMALS = 2;
/** The size of a setting ring is certified to a tenth of a micrometre. */
const RING_RESOLUTION_MM = 0.0001;

/** A gauge that can be zero-checked, with its ring. */
export type Comparator = {
  readonly key: string;
  readonly ring: string;
  readonly certifiedMm: number;
  readonly limitUm: number;
};

export function comparatorOf(gauge: StationGauge | undefined): Comparator | null {
  if (!gauge?.zero || gauge.ringMm === null) return null;
  return { key: gauge.key, ring: gauge.zero.ring, certifiedMm: gauge.ringMm, limitUm: gauge.zero.limitUm };
}

/** How a comparator shows its ring: as a size in mm, or as a deviation in µm or mm. */
export type ZeroEntryUnit = "size" | "µm" | "mm";

export type KeyedZero =
  | { readonly kind: "reading"; readonly readingMm: number }
  /** The decimal sign is missing: this was probably meant. */
  | { readonly kind: "question"; readonly readingMm: number }
  | { readonly kind: "refused"; readonly message: string };

/**
 * What a gauge shows in its setting ring, as it was keyed.
 *
 * @param entry - sizes in mm, or deviations from the ring in this unit
 */
export function keyedZero(
  text: string,
  { ring, certifiedMm }: Comparator,
  entry: ZeroEntryUnit,
  decimal: "." | ",",
): KeyedZero {
  const parsed = parseDecimal(text, entry === "size" ? "mm" : entry);
  if (!parsed.ok) return { kind: "refused", message: parsed.message };
  const isSize = parsed.decimals >= SIZE_DECIMALS && Math.abs(parsed.value - certifiedMm) <= MOST_DRIFT_MM;
  if (entry !== "size" && isSize) return { kind: "refused", message: sizeRefusal(text, ring, entry) };
  const deviationMm = entry === "µm" ? parsed.value / 1000 : parsed.value;
  const readingMm = entry === "size" ? parsed.value : toSignificant(certifiedMm + deviationMm, 12);
  if (Math.abs(readingMm - certifiedMm) <= MOST_DRIFT_MM) return { kind: "reading", readingMm };
  const meant = entry === "size" ? withDecimalSign(text, certifiedMm, MOST_DRIFT_MM) : null;
  if (meant !== null) return { kind: "question", readingMm: meant };
  return {
    kind: "refused",
    message:
      `${formatMm(readingMm, 0.001, decimal)} lies ${formatMm(Math.abs(readingMm - certifiedMm), 0.001, decimal)} from ring ${ring}, ` +
      `${formatMm(certifiedMm, RING_RESOLUTION_MM, decimal)}: no gauge drifts so far. Key what it shows in its own ring.`,
  };
}

function sizeRefusal(text: string, ring: string, entry: ZeroEntryUnit): string {
  return (
    `“${text.trim()}” is a size: here the gauge's deviation from ring ${ring} is keyed, in ${entry}, and 0 where it shows none. ` +
    `A gauge that shows sizes is set to them where a frame is chosen.`
  );
}

/** The limits within which the gauge may show its ring: "40.9722 to 40.9782 mm", "±3 µm", or "±0.003 mm". */
export function allowedText({ certifiedMm, limitUm }: Comparator, entry: ZeroEntryUnit, decimal: "." | ","): string {
  if (entry === "µm") return `±${formatFixed(limitUm, Number.isInteger(limitUm) ? 0 : 1, decimal)}\u00a0µm`;
  if (entry === "mm") return `±${formatFixed(limitUm / 1000, 4, decimal)}\u00a0mm`;
  const size = (value: number) => formatFixed(value, 4, decimal);
  return `${size(certifiedMm - limitUm / 1000)} to ${size(certifiedMm + limitUm / 1000)}\u00a0mm`;
}

type Circumstances = Pick<DeviceZeroCheck, "id" | "occasion" | "deviceAt" | "skewMs" | "deviceId" | "inspectorCode">;

/** Judges a zero check: passed within the limit, by the same core as the server. */
export function judgeZeroCheck(
  comparator: Comparator,
  readingMm: number,
  gauge: StationGauge,
  use: GaugeUse,
  circumstances: Circumstances,
): DeviceZeroCheck {
  const { key, ring, certifiedMm, limitUm } = comparator;
  const driftUm = toDecimals(zeroErrorUm({ atMs: 0, certifiedMm, readingMm }), 6);
  return {
    ...circumstances,
    gauge: key,
    ring,
    certifiedMm,
    limitUm,
    readingMm,
    driftUm,
    passed: Math.abs(driftUm) <= limitUm + ROUNDING_UM,
    since: gauge.zero?.lastGoodAt ?? null,
    serials: use.serials,
  };
}

/** As it is sent. */
export function toZeroCheck(check: DeviceZeroCheck): RecordZeroCheck {
  const { id, gauge, readingMm, ring, occasion, deviceAt, skewMs, deviceId, inspectorCode } = check;
  return {
    id,
    gauge,
    readingMm,
    ring,
    occasion,
    at: new Date(deviceAt).toISOString(),
    ...(skewMs === null ? {} : { clockSkewMs: Math.round(skewMs) }),
    deviceId,
    ...(inspectorCode === null ? {} : { inspectorCode }),
  };
}

/** When the check was, by the server's clock as far as it is known. */
export function checkedAtMs({ deviceAt, skewMs }: Pick<DeviceZeroCheck, "deviceAt" | "skewMs">): number {
  return deviceAt - (skewMs ?? 0);
}

/** What a check leaves of a gauge's use: a good one begins anew, a failed one keeps what it puts in doubt. */
export function gaugeAfterCheck(use: GaugeUse | undefined, passed: boolean): GaugeUse {
  return { ...UNUSED, serials: passed ? [] : (use?.serials ?? []) };
}

/** The kit with what this device's own checks say of the gauges, where they are newer than what the server knew. */
export function withChecks(kit: StationKit, checks: readonly DeviceZeroCheck[]): StationKit {
  if (checks.length === 0) return kit;
  const ordered = [...checks].sort((a, b) => checkedAtMs(a) - checkedAtMs(b));
  return {
    ...kit,
    gauges: kit.gauges.map((gauge) =>
      ordered.reduce((one, check) => {
        if (check.gauge !== one.key || !one.zero) return one;
        const at = checkedAtMs(check);
        if (one.zero.lastAt !== null && Date.parse(one.zero.lastAt) > at) return one;
        const iso = new Date(at).toISOString();
        return {
          ...one,
          zeroFailed: !check.passed,
          zero: {
            ...one.zero,
            lastAt: iso,
            lastDriftUm: check.driftUm,
            ...(check.passed ? { lastGoodAt: iso } : {}),
          },
        };
      }, gauge),
    ),
  };
}
