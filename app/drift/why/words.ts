import { formatCounted } from "@/lib/format/number-text";
import type { WhyFactor } from "@/lib/quality/why/why-reading";

const FACTOR: Readonly<Record<WhyFactor, string>> = {
  inspector: "inspector",
  gauge: "gauge",
  fixture: "fixture",
  mould: "mould",
  tool: "reamer",
  supplier: "supplier",
  shift: "shift",
  period: "period",
  line: "line",
};

const MANY: Readonly<Record<WhyFactor, string>> = {
  inspector: "inspectors",
  gauge: "gauges",
  fixture: "fixtures",
  mould: "moulds",
  tool: "reamers",
  supplier: "suppliers",
  shift: "shifts",
  period: "periods",
  line: "lines",
};

const capital = (text: string) => text.replace(/^./, (letter) => letter.toUpperCase());

/** Texts of what differs and by what: all streams together, and one by one. */
export const WHY_WORDS = {
  title: "Why",
  link: "Why",
  factor: FACTOR,
  allTitle: (shifts: number, groups: number) =>
    shifts + groups === 0
      ? "Nothing stands out"
      : shifts === 0
        ? formatCounted(groups, "group differs", "groups differ")
        : `${formatCounted(shifts, "shift stands", "shifts stand")} out`,
  allLead:
    "Each stream’s shifts against one another, in its newest thousand frames; and what was measured by one inspector, gauge, fixture, mould or supplier against the rest.",
  filter: "Filter by line",
  allLines: "all lines",
  backToDrift: "Drift",
  person:
    "A difference between inspectors is a difference between readings. It says nothing about a person: light, gauge, ring, the frames of that shift and tiredness all read like it.",
  standsOut: {
    heading: "Shifts that do not belong to the others",
    aside: "in most streams first",
    none: "No shift stands out",
    noneHint: "A shift is compared with the others once a stream has twelve of them.",
    table: "Shifts that stand out, in most streams first",
    when: "shift from",
    line: "line",
    streams: "in",
    farthest: "furthest",
    against: (own: string, usual: string) => `${own}, usually ${usual}`,
    more: (names: string, more: number) => (more === 0 ? names : `${names} and ${formatCounted(more, "more stream")}`),
    inspector: "measured by",
    with: "with",
    unknown: "nobody known",
  },
  differs: {
    heading: "Groups that lie apart",
    aside: "the surest first",
    none: "No group lies apart from the others",
    noneHint: "What frames differ by is within what shifts differ by anyway.",
    table: "Groups that lie apart, the surest first",
    group: "group",
    line: "line",
    stream: "stream",
    difference: "against the others",
    chance: "chance if alike",
    named: (factor: WhyFactor, name: string) => `${FACTOR[factor]} ${name}`,
  },
  one: {
    pageTitle: "Why, one stream",
    all: "All that stands out",
    stream: "Stream",
    factors: "Compare by",
    oneOutlying: (name: string, shifts: number, stream: string) =>
      `${name}: ${formatCounted(shifts, "shift", "shifts")} of the ${stream} ${shifts === 1 ? "stands" : "stand"} out`,
    oneDiffers: (name: string, difference: string, stream: string) =>
      `${name}: the ${stream} lies ${difference} from the others`,
    noDifference: (factor: WhyFactor, stream: string) => `The ${stream} does not differ by ${FACTOR[factor]}`,
    onlyOne: (factor: WhyFactor, name: string, stream: string) =>
      `All of the ${stream} is of one ${FACTOR[factor]}, ${name}`,
    nothing: (factor: WhyFactor) => `No frame here says its ${FACTOR[factor]}`,
    nothingHint: "Choose another comparison above, or other days.",
    lead: (line: string, operation: string, frames: number, from: string, to: string) =>
      `${line}, ${operation}: ${formatCounted(frames, "frame")}, ${from} to ${to}.`,
    distances: "Sizes are distances from the middle of each line’s own limits.",
    unlabelled: (frames: number, factor: WhyFactor) =>
      `${formatCounted(frames, "frame")} without a ${FACTOR[factor]} ${frames === 1 ? "is" : "are"} left out.`,
    sideBySide: (factor: WhyFactor) => `By ${FACTOR[factor]}, side by side`,
    sideAside: (factor: WhyFactor) =>
      factor === "shift"
        ? "each dot a frame; bar: 95 % interval of the mean"
        : "each dot the mean of a shift; bar: 95 % interval of the mean",
    table: (factor: WhyFactor) => `The stream by ${FACTOR[factor]}`,
    columns: {
      name: (factor: WhyFactor) => FACTOR[factor],
      shifts: "shifts",
      frames: "frames",
      mean: "mean",
      interval: "95 % interval",
      difference: "against the others",
      sd: "sd in a shift",
      says: "what the data say",
    },
    oneShift: "one shift: nobody knows how others would lie",
    apart: (chance: string) => `lies apart (chance ${chance} if alike)`,
    notApart: "no difference that the data bear out",
    alone: "nothing to compare with",
    standOut: (shifts: number) => `${formatCounted(shifts, "shift stands", "shifts stand")} out`,
    rowAlternative: (name: string, mean: string, interval: string, shifts: number, out: number) =>
      `${name}: mean ${mean}, ${interval}, ${formatCounted(shifts, "dot")}${out === 0 ? "" : `, ${out} standing out`}`,
    between: (a: string, b: string) => `${a} to ${b}`,
    parts: {
      heading: "Where the variation comes from",
      aside: "standard deviations with their 95 % intervals",
      table: "Parts of the variation",
      part: "part",
      sd: "sd",
      interval: "95 % interval",
      share: "share",
      rests: "rests on",
      betweenGroups: (factor: WhyFactor) => `between ${MANY[factor]}`,
      betweenShifts: (factor: WhyFactor) =>
        factor === "shift" ? "between shifts" : `between shifts of one ${FACTOR[factor]}`,
      within: "between frames of a shift",
      degrees: (degrees: number) => `${formatCounted(degrees, "degree", "degrees")} of freedom`,
      noUpper: (from: string) => `from ${from}, no upper estimate`,
      bears: (factor: WhyFactor, levels: number) =>
        levels < 4
          ? `${capital(formatCounted(levels, FACTOR[factor], MANY[factor]))} say next to nothing about what ${MANY[factor]} differ by in general.`
          : "",
      method:
        "Frames of one shift are too much alike to count one by one: shifts are the measure. Unweighted means of shifts, intervals by modified large samples.",
    },
    outlying: {
      heading: "Shifts that stand out",
      aside: "against the other shifts of this stream, chance of a false one 1 %",
      table: "Shifts that stand out",
      shift: "shift from",
      group: (factor: WhyFactor) => FACTOR[factor],
      mean: "mean",
      frames: "frames",
      first: "first frame",
    },
    span: {
      heading: "Which frames",
      from: "from day",
      to: "to day",
      split: "second period from",
      apply: "Show these",
      newest: "the newest 2000",
    },
    periods: { before: (day: string) => `before ${day}`, after: (day: string) => `from ${day}` },
    settle: {
      inspector:
        "To tell a hand from a gauge, let two people measure one frame five times; to know what hands differ by, plan a study.",
      study: "Plan a gauge study",
    },
    csv: "Save these frames as CSV",
  },
} as const;
