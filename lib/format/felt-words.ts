import { KNOWN_BAR_SETS } from "@/lib/core/metrology/gauge-bar";
import type { PlugTrial } from "@/lib/core/metrology/plug-evidence";
import type { CharacteristicUnit } from "@/lib/core/metrology/shell-drawing";
import type { FeltSubject } from "@/lib/core/metrology/felt-subject";
import type { BarBounds, Bounds, SeatBounds } from "@/lib/quality/felt-bounds";
import type { FeltReason } from "@/lib/quality/felt-reason";
import { formatFixed } from "./number-text";
import { limitsText, numberText, valueText } from "./value-text";

/** How people name the gauges of a subject. */
export const FELT_SUBJECT_WORDS = {
  "ds.plug": "plugs of the DS seat",
  "nds.plug": "plugs of the NDS seat",
  bar: "bar",
} as const satisfies Record<FeltSubject, string>;

const wholeUm = (valueUm: number): string => formatFixed(valueUm, 0);

const AGAIN = "withdraw it and measure again with another gauge, or have it decided and signed";

/** A plug's size as it is marked: at least two decimals, all that it has. */
export function plugSizeText(sizeMm: number): string {
  const text = String(sizeMm);
  const decimals = text.split(".")[1]?.length ?? 0;
  return decimals >= 2 ? text : `${text}${decimals === 0 ? "." : ""}${"0".repeat(2 - decimals)}`;
}

/** "plug 40.95 will not enter", "rod 41.003 passes across". */
export function plugText({ sizeMm, feel, across }: PlugTrial): string {
  const size = plugSizeText(sizeMm);
  if (across === true)
    return `rod ${size} ${{ slides: "passes across", hand: "touches across", no: "does not pass across" }[feel]}`;
  return `plug ${size} ${{ slides: "slides", hand: "enters by hand", no: "does not enter" }[feel]}`;
}

function barText({ set, result }: BarBounds): string {
  const passage = { free: "turns freely", stiff: "is stiff", "will not pass": "will not pass" } as const;
  return `bar ${set} ${passage[result]}`;
}

function plugAgainstReading(reason: Extract<FeltReason, { code: "plug-contradicts-reading" }>): string {
  const { plug, side, boreMm, beyondUm } = reason;
  const extreme = plug.across === true ? "largest" : "smallest";
  const causes =
    side === "bore-too-small"
      ? "plug worn or of another size, or the bore gauge set with the wrong ring"
      : plug.across === true
        ? "rod of another size, paint or a burr, or the bore gauge set with the wrong ring"
        : "plug of another size, paint or a burr at the mouth, the bore gauge set with the wrong ring, or odd lobes, which a two-point gauge does not see";
  return `${plugText(plug)}, yet the ${extreme} reading is ${valueText(boreMm, "mm")}, ${wholeUm(beyondUm)} µm beyond both uncertainties (${causes}): ${AGAIN}`;
}

function boundsText({ least, most }: Bounds, unit: CharacteristicUnit): string {
  if (least !== null && most !== null) return `${numberText(least, unit)} to ${valueText(most, unit)}`;
  if (least !== null) return `at least ${valueText(least, unit)}`;
  return most === null ? "not bounded" : `at most ${valueText(most, unit)}`;
}

/** Both extremes of a size: "smallest size at least 40.953 mm, largest at most 40.997 mm". */
function sizesText({ least, smallestMost, largestLeast, most }: SeatBounds): string {
  const smallest = boundsText({ least, most: smallestMost }, "mm");
  // The largest is no smaller than the smallest: said only where something was felt across.
  const isAcross = largestLeast !== null && largestLeast !== least;
  return `smallest size ${smallest}, largest ${boundsText({ least: isAcross ? largestLeast : null, most }, "mm")}`;
}

function plugBoundsText({ bounds, limits, plugUm }: Extract<FeltReason, { code: "plug-bounds" }>): string {
  const { verdict, broken, ovalUm } = bounds;
  const u = `plugs ±${wholeUm(plugUm)} µm`;
  const limit = limitsText(limits.lower, limits.upper, "mm");
  if (broken !== null)
    return `by the plugs ${sizesText(bounds)}, ${limit}, ${u}: too ${broken === "lower" ? "small" : "large"}`;
  const oval = ovalUm === null ? "" : `, ${wholeUm(ovalUm)} µm of oval allowed for, which a plug does not feel`;
  const say =
    bounds.least === null && bounds.most === null
      ? `the plugs bound neither side, ${limit}`
      : `by the plugs ${sizesText(bounds)}${oval}, ${limit}, ${u}`;
  return verdict === "conforms" ? say : `${say}: measure it, or try the next sizes`;
}

function barBoundsText({ name, bars, bounds, limits }: Extract<FeltReason, { code: "bar-bounds" }>): string {
  const unit: CharacteristicUnit = name === "tilt" ? "arcmin" : "µm";
  const felt = bars.map(barText).join(", ");
  const limit = limits.upper === null ? "the drawing sets no limit" : limitsText(limits.lower, limits.upper, unit);
  const subject = name === "tilt" ? "the worse seat tilts" : "the seats are off by";
  const say =
    bounds.least === null && bounds.most === null
      ? `${felt}, which does not bound ${name}`
      : `${felt}: ${subject} ${boundsText(bounds, unit)}`;
  if (bounds.verdict === "does not conform") return `${say}, ${limit}: out of line`;
  return bounds.verdict === "conforms"
    ? `${say}, ${limit}`
    : `${say}, ${limit}: measure it with the indicator, or try a closer bar`;
}

function barAgainstReading({ bar, read, beyond }: Extract<FeltReason, { code: "bar-contradicts-reading" }>): string {
  const what = read.unit === "arcmin" ? "a tilt" : "a coaxiality";
  return `${barText(bar)}, yet the readings give ${what} of ${valueText(read.value, read.unit)}, ${valueText(beyond, read.unit)} beyond both uncertainties (bar bent or dirty, plugs not seated or of another size, paint or a burr, or the sweep misread): ${AGAIN}`;
}

/** A reason in words that follow the verdict: "Not proven: plug 40.95 will not enter, yet ...". No full stop. */
export function feltReasonText(reason: FeltReason): string {
  switch (reason.code) {
    case "trials-missing": {
      const [first = "", ...more] = reason.labels;
      return more.length === 0
        ? `trial ${first} is missing`
        : `${reason.labels.length} trials are missing, first ${first}`;
    }
    case "plugs-contradict":
      return `the plugs contradict each other, at least ${valueText(reason.leastMm, "mm")} and at most ${valueText(reason.mostMm, "mm")} (a plug worn or of another size): ${AGAIN}`;
    case "plug-contradicts-reading":
      return plugAgainstReading(reason);
    case "plug-bounds":
      return plugBoundsText(reason);
    case "unknown-set":
      return `unknown set of bars ${reason.sets.join(", ")}: nobody knows its sizes, so that its bar proves nothing (known: ${KNOWN_BAR_SETS.join(", ")}); withdraw it and try a bar of a known set`;
    case "bars-contradict":
      return `${reason.bars.map(barText).join(", yet ")} (a bar bent or dirty, or gauges not seated): ${AGAIN}`;
    case "bar-contradicts-reading":
      return barAgainstReading(reason);
    case "bar-bounds":
      return barBoundsText(reason);
  }
}
