import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import { formatFixed } from "@/lib/format/number-text";
import type { FileStream } from "./file-streams";

const WIDTH = 680;
const HEIGHT = 150;
const PLOT = { left: 4, right: 560, top: 12, bottom: 128 };
/** More points than this are drawn as the extremes of equal stretches: no signal is lost to the eye. */
const MOST_POINTS = 600;

/** Text for HTML and SVG. */
export function escapeHtml(text: string): string {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;").replaceAll('"', "&quot;");
}

/** Places of the points that are drawn: all, or the lowest and the highest of each stretch and every signalled one. */
function drawnPlaces(values: readonly number[], signalled: ReadonlySet<number>): number[] {
  if (values.length <= MOST_POINTS) return values.map((_, place) => place);
  const drawn = new Set<number>(signalled);
  const stretch = Math.ceil(values.length / (MOST_POINTS / 2));
  for (let from = 0; from < values.length; from += stretch) {
    let [low, high] = [from, from];
    for (let place = from; place < Math.min(from + stretch, values.length); place += 1) {
      if ((values[place] ?? 0) < (values[low] ?? 0)) low = place;
      if ((values[place] ?? 0) > (values[high] ?? 0)) high = place;
    }
    drawn.add(low).add(high);
  }
  return [...drawn].sort((a, b) => a - b);
}

type Line = { readonly value: number; readonly name: string; readonly kind: "limit" | "control" | "mean" };

function linesOf({ evaluation, drawing, subject }: FileStream): Line[] {
  const { limits } = evaluation;
  const drawn = drawing.characteristics.find(({ name }) => name === subject.characteristic);
  const lines: Line[] = [];
  const add = (value: number | null | undefined, name: string, kind: Line["kind"]) => {
    if (value !== null && value !== undefined) lines.push({ value, name, kind });
  };
  if (subject.statistic === "mean" || subject.statistic === "value") {
    add(drawn?.upper, "limit", "limit");
    add(drawn?.lower, "limit", "limit");
  }
  add(limits?.upper, "control", "control");
  add(limits?.lower, "control", "control");
  add(limits?.center, limits?.kind === "quantile" ? "median" : "mean", "mean");
  return lines;
}

/** Places labels so that none covers another: from the top down, at least `gap` apart. */
function spread(tops: readonly number[], gap: number): number[] {
  const order = tops.map((_, index) => index).sort((a, b) => (tops[a] ?? 0) - (tops[b] ?? 0));
  const placed = [...tops];
  let last = -Infinity;
  for (const index of order) {
    placed[index] = Math.max(placed[index] ?? 0, last + gap);
    last = placed[index] ?? last;
  }
  return placed;
}

/**
 * The chart of one stream as SVG: points in the order of measuring, limits as lines with their value at the end, signals
 * with a pennant, batches as steps under the axis.
 */
export function streamChart(stream: FileStream): string {
  const { values, evaluation, subject, frames, serials, batches } = stream;
  const lines = linesOf(stream);
  const signalled = new Set(evaluation.signals.map(({ index }) => index));
  const numbers = [...values, ...lines.map(({ value }) => value)];
  const low = numbers.reduce((a, b) => Math.min(a, b), Infinity);
  const high = numbers.reduce((a, b) => Math.max(a, b), -Infinity);
  const span = high > low ? high - low : 1;
  const x = (place: number) => PLOT.left + ((PLOT.right - PLOT.left) * (place + 0.5)) / values.length;
  const y = (value: number) => PLOT.bottom - ((PLOT.bottom - PLOT.top) * (value - low)) / span;
  const at = (value: number) => plainDecimals(value, 1);
  const places = drawnPlaces(values, signalled);
  const path = places
    .map((place, index) => `${index === 0 ? "M" : "L"}${at(x(place))} ${at(y(values[place] ?? 0))}`)
    .join("");
  const digits = subject.unit === "mm" ? 4 : 1;
  const labelTops = spread(
    lines.map(({ value }) => y(value)),
    12,
  );
  const drawnLines = lines.map(({ value, name, kind }, index) => {
    const text = `${formatFixed(value, digits)} ${name}`;
    return `<line class="${kind}" x1="${PLOT.left}" x2="${PLOT.right}" y1="${at(y(value))}" y2="${at(y(value))}"/><text class="lv" x="${PLOT.right + 6}" y="${at((labelTops[index] ?? 0) + 4)}">${text}</text>`;
  });
  const points = places.map((place) => {
    const [px, py] = [x(place), y(values[place] ?? 0)];
    const serial = escapeHtml(serials[frames[place] ?? 0] ?? "");
    const title = `<title>${serial}: ${formatFixed(values[place] ?? 0, digits)} ${subject.unit}</title>`;
    if (!signalled.has(place)) return `<circle class="p" cx="${at(px)}" cy="${at(py)}" r="1.6">${title}</circle>`;
    return `<g class="s">${title}<circle cx="${at(px)}" cy="${at(py)}" r="2.6"/><path d="M${at(px)} ${at(py - 3)}v-9l6 2.5-6 2.5"/></g>`;
  });
  const steps: string[] = [];
  for (let place = 0; place < values.length; place += 1) {
    const batch = batches[frames[place] ?? 0] ?? null;
    const before = place === 0 ? undefined : (batches[frames[place - 1] ?? 0] ?? null);
    if (batch === before || steps.length > 24) continue;
    const px = x(place) - (PLOT.right - PLOT.left) / values.length / 2;
    steps.push(
      `<path class="step" d="M${at(px)} ${PLOT.bottom + 4}v8"/><text class="b" x="${at(px + 3)}" y="${PLOT.bottom + 13}">${escapeHtml(batch ?? "")}</text>`,
    );
  }
  const label = `${subject.characteristic}, ${values.length} frames, ${signalled.size} signals`;
  return `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escapeHtml(label)}">${drawnLines.join("")}<path class="line" d="${path}"/>${points.join("")}${steps.join("")}</svg>`;
}
