import type { CauseCode, CauseRule, CauseTwin, SettlingMeasurement } from "./case";

const GAUGE_OR_REAMER = "zero check or other gauge" satisfies SettlingMeasurement;
const MANDREL: CauseTwin = { what: "sweep mandrel", measure: "turned on the mandrel" };
const LOOSE: CauseTwin = { what: "loose gauge", measure: "five times by two people" };

/** What most rules have. */
const PLAIN = { may: [], scatters: [], needsChange: false, event: null, operation: null, twin: null } as const;

const LOTS: readonly Omit<CauseRule, "label">[] = [
  {
    ...PLAIN,
    cause: "material lot",
    moves: [{ kind: "bore", seats: "alike", sign: 0 }],
    may: ["ovality", "spread", "width"],
    shapes: ["step"],
    needsChange: true,
    event: "material",
    twin: { what: "reamer changed", measure: "one frame of the old lot" },
  },
  {
    ...PLAIN,
    cause: "material lot",
    moves: [
      { kind: "ovality", seats: "each", sign: 0 },
      { kind: "spread", seats: "each", sign: 0 },
    ],
    may: ["width"],
    shapes: ["step"],
    needsChange: true,
    event: "material",
    twin: { what: "mould", measure: "one frame of the old lot" },
  },
];

/**
 * How each cause shows itself; a cause with several rules shows itself in one of these ways. Streams that a rule does not name are
 * spared by it. From the simulated faults where there is one, else judgement of the trade without a source.
 */
export const CAUSE_RULES: readonly CauseRule[] = [
  {
    ...PLAIN,
    cause: "reamer worn",
    moves: [{ kind: "bore", seats: "alike", sign: -1 }],
    may: ["spread", "taper"],
    shapes: ["trend"],
    label: "tool",
    twin: { what: "gauge", measure: GAUGE_OR_REAMER },
  },
  {
    ...PLAIN,
    cause: "reamer changed",
    moves: [{ kind: "bore", seats: "alike", sign: 0 }],
    may: ["taper"],
    shapes: ["step"],
    label: "tool",
    needsChange: true,
    event: "tool",
    twin: { what: "material lot", measure: "one frame of the old lot" },
  },
  {
    ...PLAIN,
    cause: "fixture moved",
    moves: [{ kind: "offset", seats: "each", sign: 0 }],
    may: ["tilt", "face"],
    shapes: ["step", "trend"],
    label: "fixture",
    event: "fixture",
    twin: MANDREL,
  },
  {
    ...PLAIN,
    cause: "fixture moved",
    moves: [],
    may: ["tilt", "face"],
    scatters: ["offset"],
    shapes: ["spread"],
    label: "fixture",
    event: "fixture",
    twin: MANDREL,
  },
  {
    ...PLAIN,
    cause: "mould",
    moves: [
      { kind: "ovality", seats: "each", sign: 1 },
      { kind: "spread", seats: "each", sign: 1 },
      { kind: "oval", seats: "alike", sign: 0 },
    ],
    may: ["offset"],
    shapes: ["step"],
    label: "mould",
    needsChange: true,
    event: "mould",
    twin: { what: "clamping distortion", measure: "before machining or other fixture" },
  },
  {
    ...PLAIN,
    cause: "gauge",
    moves: [{ kind: "bore", seats: "alike", sign: 0 }],
    shapes: ["step", "trend"],
    label: "gauge.bore",
    event: "gauge",
    twin: { what: "warm part", measure: "both temperatures" },
  },
  {
    ...PLAIN,
    cause: "gauge",
    moves: [{ kind: "width", seats: "each", sign: 0 }],
    shapes: ["step", "trend"],
    label: "gauge.width",
    event: "gauge",
  },
  {
    ...PLAIN,
    cause: "gauge",
    moves: [
      { kind: "spread", seats: "each", sign: 1 },
      { kind: "ovality", seats: "each", sign: 1 },
    ],
    scatters: ["taper", "bore", "oval"],
    shapes: ["spread"],
    label: "gauge.bore",
    event: "gauge",
    // Hands differ oftener than a gauge comes loose. A choice, no source.
    odds: 1 / 3,
    twin: { what: "inspector", measure: "five times by two people" },
  },
  {
    ...PLAIN,
    cause: "inspector",
    moves: [
      { kind: "spread", seats: "each", sign: 1 },
      { kind: "ovality", seats: "each", sign: 1 },
    ],
    scatters: ["taper", "bore", "oval"],
    shapes: ["spread"],
    label: "inspector",
    event: "inspector",
    twin: LOOSE,
  },
  {
    ...PLAIN,
    cause: "inspector",
    moves: [{ kind: "bore", seats: "alike", sign: 0 }],
    shapes: ["step"],
    label: "inspector",
    needsChange: true,
    event: "inspector",
    twin: LOOSE,
  },
  {
    ...PLAIN,
    cause: "paint in the bore",
    moves: [{ kind: "bore", seats: "alike", sign: -1 }],
    may: ["face", "ovality", "spread", "taper"],
    shapes: ["frames", "step"],
    label: null,
    operation: "paint",
    twin: { what: "gauge", measure: "same frame after machining" },
  },
  ...LOTS.map((rule): CauseRule => ({ ...rule, label: "batch" })),
  // A batch of a supplier's may begin at any frame of ours; another supplier is another lot.
  ...LOTS.map((rule): CauseRule => ({ ...rule, label: "supplier" })),
];

/** Two causes that readings of one line may leave side by side, and the measurement that separates them. */
const SETTLED_BY: readonly (readonly [CauseCode, CauseCode, SettlingMeasurement])[] = [
  ["reamer worn", "gauge", GAUGE_OR_REAMER],
  ["reamer changed", "gauge", GAUGE_OR_REAMER],
  ["gauge", "material lot", GAUGE_OR_REAMER],
  ["gauge", "inspector", "five times by two people"],
  ["mould", "inspector", "five times by two people"],
  ["material lot", "inspector", "five times by two people"],
  ["reamer changed", "inspector", "five times by two people"],
  ["reamer changed", "material lot", "one frame of the old lot"],
  ["mould", "material lot", "one frame of the old lot"],
  ["reamer worn", "material lot", "one frame of the old lot"],
  ["paint in the bore", "gauge", "same frame after machining"],
  ["paint in the bore", "reamer worn", "same frame after machining"],
  ["paint in the bore", "reamer changed", "same frame after machining"],
];

/** The measurement that separates two causes; null where the table knows none. */
export function settlingMeasurement(a: CauseCode, b: CauseCode): SettlingMeasurement | null {
  const found = SETTLED_BY.find(([one, other]) => (one === a && other === b) || (one === b && other === a));
  return found?.[2] ?? null;
}
