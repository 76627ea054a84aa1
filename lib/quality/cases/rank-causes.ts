import type { PatternColumn } from "../../core/control/cases/pattern-fit";
import type { CaseFeature, CaseKind, CaseLine, CauseRule, Evidence, RankedCause, StreamKind } from "./case";
import { CAUSE_RULES } from "./cause-table";
import { eventPlaces, labelCourse, type LabelCourse } from "./label-changes";
import type { ScoredStream } from "./score-streams";
import { estimateSegment, type Pattern, type SegmentEstimate, type SegmentFit } from "./segment-likelihood";
import { zeroCheckEvidence } from "./zero-check-evidence";

/** What is known of a case when its causes are ranked. */
export type CauseQuestion = {
  readonly line: CaseLine;
  /** Streams that the case may be about: those of other open cases are left out. */
  readonly streams: readonly ScoredStream[];
  /** k x k correlation of them, row-major. */
  readonly correlation: Float64Array;
  readonly members: readonly CaseFeature[];
  readonly earliest: number;
  readonly latest: number;
  /** Last frame of the change that is known. */
  readonly last: number;
  /** Last frame of all, for zero checks that came later. */
  readonly now: number;
};

/** A cause with the shape and the start that fit it best. */
export type FittedCause = RankedCause & {
  readonly kind: CaseKind;
  readonly start: number;
  /** Frames that it takes for changed. */
  readonly places: readonly number[];
  /** Kinds of stream that it moves or scatters, the one that shows it best first. */
  readonly about: readonly StreamKind[];
  /** Streams that moved and that it does not explain. */
  readonly unexplained: readonly CaseFeature[];
};

/** Normal quantile of p = 0.001, two sides: from there on a stream has moved. */
export const MOVED = 3.29;
/** Starts that are tried of a long interval. */
const MOST_STARTS = 32;
/** Odds against what the table does not have, and against a second fault at the same time. Choices, no source. */
const UNKNOWN_ODDS = 30;
const SECOND_FAULT_ODDS = 100;
/** 2 ln likelihood that the levels of a cause with scatter have to bring: scatter alone would explain any change of a size. */
const LEAST_MOVE = 8;
/** Largest factor of a variance by a loose hand: a mean of many readings scatters less than what one reading gives. Choices, no source. */
const MOST_SCATTER: Readonly<Partial<Record<StreamKind, number>>> = { bore: 10 };
const USUAL_MOST_SCATTER = 100;
/** Frames by which an event may miss the start of a trend: what came before moves it. A choice, no source. */
const TREND_SLACK = 4;
/** Frames that make a trend: fewer are a step. */
const FEWEST_OF_TREND = 3;
/** Odds for a cause that only this operation has, against those that every one has. A choice, no source. */
const OPERATION_ODDS = 3;
/** Standardised mean of the streams of a cause from which a frame counts as one that jumped. */
const JUMPED = 3.5;

const UNKNOWN: CauseRule = {
  cause: "unknown",
  moves: [],
  may: [],
  scatters: [],
  shapes: ["step", "trend"],
  label: null,
  needsChange: false,
  event: null,
  operation: null,
  twin: null,
};

type Trial = {
  readonly rule: CauseRule;
  readonly kind: CaseKind;
  readonly start: number;
  readonly places: readonly number[];
  readonly subject: string | null;
  readonly fit: SegmentFit;
  readonly streams: readonly ScoredStream[];
  readonly pattern: NamedPattern;
  readonly unexplained: readonly CaseFeature[];
  readonly ln: number;
  readonly evidence: readonly Evidence[];
};

type NamedPattern = Pattern & { readonly free: ReadonlySet<number>; readonly moved: readonly number[] };

function effectOf(streams: readonly ScoredStream[], moved: readonly number[]): Float64Array {
  const effect = new Float64Array(streams.length);
  for (const at of moved) effect[at] = 1 / (streams[at]?.sd ?? 1);
  return effect;
}

function placesOf(streams: readonly ScoredStream[], kind: StreamKind): number[] {
  return streams.flatMap(({ role }, at) => (role.kind === kind ? [at] : []));
}

/** The columns of a rule for the streams at hand; null where a stream that it moves is not among them. */
function patternOf(
  rule: CauseRule,
  streams: readonly ScoredStream[],
  members: readonly CaseFeature[],
): NamedPattern | null {
  const columns: PatternColumn[] = [];
  const moved: number[] = [];
  if (rule.cause === "unknown") {
    streams.forEach(({ feature }, at) => {
      if (!members.includes(feature)) return;
      columns.push({ effect: effectOf(streams, [at]), sign: 0 });
      moved.push(at);
    });
  }
  for (const { kind, seats, sign } of rule.moves) {
    const of = placesOf(streams, kind);
    if (of.length === 0) continue;
    moved.push(...of);
    if (seats === "each") for (const at of of) columns.push({ effect: effectOf(streams, [at]), sign });
    else {
      const components = [...new Set(of.map((at) => streams[at]?.role.component ?? null))];
      for (const component of components)
        columns.push({
          effect: effectOf(
            streams,
            of.filter((at) => streams[at]?.role.component === component),
          ),
          sign,
        });
    }
  }
  const scatters = rule.scatters
    .map((kind) => ({ streams: placesOf(streams, kind), most: MOST_SCATTER[kind] ?? USUAL_MOST_SCATTER }))
    .filter((group) => group.streams.length > 0);
  const isAll = rule.moves.length > 0 ? columns.length > 0 : scatters.length > 0;
  if (rule.cause !== "unknown" && !isAll) return null;
  const free = new Set([
    ...moved,
    ...scatters.flatMap((group) => group.streams),
    ...rule.may.flatMap((kind) => placesOf(streams, kind)),
  ]);
  return { columns, scatters, free, moved };
}

/** Adds one size for each optional stream that moved, where it pays for itself. */
function withOptional(
  rule: CauseRule,
  pattern: NamedPattern,
  streams: readonly ScoredStream[],
  estimate: SegmentEstimate,
) {
  const plain = estimate.fit(pattern);
  const extra = rule.may
    .flatMap((kind) => placesOf(streams, kind))
    .filter((at) => !pattern.moved.includes(at) && Math.abs(plain.left[at] ?? 0) > MOVED);
  if (extra.length === 0) return { pattern, fit: plain };
  const columns = [
    ...pattern.columns,
    ...extra.map((at): PatternColumn => ({ effect: effectOf(streams, [at]), sign: 0 })),
  ];
  const wider = { ...pattern, columns };
  return { pattern: wider, fit: estimate.fit(wider) };
}

/** Up to MOST_STARTS places of a range, its ends among them. */
function startsIn(earliest: number, latest: number): number[] {
  const count = Math.min(MOST_STARTS, latest - earliest + 1);
  if (count <= 1) return [latest];
  return Array.from({ length: count }, (_, at) => Math.round(earliest + (at * (latest - earliest)) / (count - 1)));
}

function subStreams(question: CauseQuestion, keep: (stream: ScoredStream) => boolean) {
  const kept = question.streams.flatMap((stream, at) => (keep(stream) ? [at] : []));
  const k = question.streams.length;
  const correlation = new Float64Array(kept.length * kept.length);
  kept.forEach((i, row) =>
    kept.forEach((j, col) => (correlation[row * kept.length + col] = question.correlation[i * k + j] ?? 0)),
  );
  return { streams: kept.flatMap((at) => question.streams[at] ?? []), correlation };
}

/** Estimates of segments, each made once. */
function createEstimates(question: CauseQuestion) {
  const made = new Map<string, { streams: readonly ScoredStream[]; estimate: SegmentEstimate } | null>();
  return (places: readonly number[], kind: CaseKind, start: number) => {
    const isTrend = kind === "trend";
    const key = [isTrend, start, places.length, places[0], places.at(-1)].join(" ");
    const known = made.get(key);
    if (known !== undefined) return known;
    const { streams, correlation } = subStreams(question, ({ scores }) =>
      places.some((place) => (scores[place] ?? null) !== null),
    );
    const weights = places.map((place) => (isTrend ? place - start + 1 : 1));
    const value =
      streams.length === 0 ? null : { streams, estimate: estimateSegment(streams, correlation, { places, weights }) };
    made.set(key, value);
    return value;
  };
}

function jumpedPlaces(rule: CauseRule, streams: readonly ScoredStream[], places: readonly number[]): number[] {
  const of = rule.moves.flatMap(({ kind, sign }) =>
    placesOf(streams, kind).map((at) => ({ at, sign: sign === 0 ? 1 : sign })),
  );
  return places.filter((place) => {
    const scores = of.flatMap(({ at, sign }) => {
      const score = streams[at]?.scores[place] ?? null;
      return score === null ? [] : [score * sign];
    });
    return scores.length > 0 && scores.reduce((sum, score) => sum + score, 0) / scores.length > JUMPED;
  });
}

/** ln of the chance to pick those frames out of the stretch with one share. */
function lnOfChoice(picked: number, of: number): number {
  const share = picked / of;
  return share <= 0 || share >= 1 ? 0 : picked * Math.log(share) + (of - picked) * Math.log(1 - share);
}

/** Spared streams that moved beside what a pattern explains. */
function oddStreams(pattern: NamedPattern, fit: SegmentFit, streams: readonly ScoredStream[]): number[] {
  return [...streams.keys()].filter((at) => !pattern.free.has(at) && Math.abs(fit.left[at] ?? 0) > MOVED);
}

function kindsOf({ moves, scatters }: CauseRule): StreamKind[] {
  return [...moves.map(({ kind }) => kind), ...scatters];
}

type Place = { readonly start: number; readonly isChange: boolean };

/** Whether a rule moves or scatters a stream that signalled: what only may move along makes no cause. */
function movesMember(rule: CauseRule, { members, streams }: CauseQuestion): boolean {
  if (rule.cause === "unknown") return true;
  const kinds = kindsOf(rule);
  return streams.some(({ feature, role }) => members.includes(feature) && kinds.includes(role.kind));
}

/** Where a rule may begin, or the reason why it cannot. */
function startsOf(
  rule: CauseRule,
  question: CauseQuestion,
  course: LabelCourse | null,
  events: readonly number[],
): { readonly starts: readonly Place[] } | { readonly excluded: Evidence } {
  const { line, earliest, latest, last } = question;
  if (rule.operation !== null && line.operation !== null && !line.operation.toLowerCase().includes(rule.operation))
    return { excluded: { code: "not after paint", isFor: false } };
  if (!movesMember(rule, question)) return { excluded: { code: "does not fit", isFor: false } };
  // One who measured everything measured what did not change as well.
  if (rule.label === "inspector" && course?.isKnown === true && course.changes.length === 0 && events.length === 0)
    return { excluded: { code: "no change of", isFor: false, label: rule.label } };
  const slack = rule.shapes.includes("trend") ? TREND_SLACK : 1;
  const near = events.filter((place) => place >= earliest - slack && place <= latest + slack && place <= last);
  const changes = near.map((start) => ({ start, isChange: true }));
  if (!rule.needsChange)
    return {
      starts: [
        ...changes,
        ...startsIn(earliest, latest).map((start) => ({
          start,
          isChange: near.some((place) => Math.abs(place - start) <= slack),
        })),
      ],
    };
  if (changes.length > 0) return { starts: changes };
  const isSilent = course?.isKnown !== true && events.length === 0;
  if (isSilent) return { starts: startsIn(earliest, latest).map((start) => ({ start, isChange: false })) };
  return rule.label === null ? { starts: [] } : { excluded: { code: "no change of", isFor: false, label: rule.label } };
}

function trialsOf(
  rule: CauseRule,
  question: CauseQuestion,
  estimates: ReturnType<typeof createEstimates>,
): Trial[] | Evidence {
  const { line, earliest, latest, last, members } = question;
  const course = rule.label === null ? null : labelCourse(line, rule.label, last);
  const events = eventPlaces(line, rule.event, rule.event === null ? null : course, last);
  const where = startsOf(rule, question, course, events);
  if ("excluded" in where) return where.excluded;
  const between = (last + 1) / Math.max(1, events.length);
  const bonusAt = (start: number): number => {
    const isAt = events.includes(start) && start >= earliest - 1 && start <= latest + 1;
    const coincidence = Math.log(between / (latest - earliest + 1 + (isAt ? 0 : 2 * TREND_SLACK)));
    return rule.needsChange ? coincidence : Math.max(0, coincidence);
  };
  return where.starts.flatMap(({ start, isChange }) => {
    const subject = course?.at(start) ?? null;
    const stretch: number[] = [];
    for (let place = start; place <= last; place++) {
      const value = course?.at(place) ?? null;
      if (subject === null || value === null || value === subject) stretch.push(place);
    }
    return rule.shapes.flatMap((kind): Trial[] => {
      const places = kind === "frames" ? jumpedPlaces(rule, question.streams, stretch) : stretch;
      if (places.length < (kind === "trend" ? FEWEST_OF_TREND : 1)) return [];
      if (kind === "frames" && places.length === stretch.length) return [];
      const made = estimates(places, kind, start);
      const base = made && patternOf(rule, made.streams, members);
      if (!made || !base) return [];
      let { pattern, fit } = withOptional(rule, base, made.streams, made.estimate);
      if (rule.scatters.length > 0 && rule.moves.length > 0 && fit.moved < LEAST_MOVE) return [];
      const odd = oddStreams(pattern, fit, made.streams);
      let ln = 0;
      if (odd.length > 0) {
        // What a second fault moved gets sizes of its own.
        const columns = [
          ...pattern.columns,
          ...odd.map((at) => ({ effect: effectOf(made.streams, [at]), sign: 0 as const })),
        ];
        pattern = { ...pattern, columns };
        fit = made.estimate.fit(pattern);
        ln -= Math.log(SECOND_FAULT_ODDS);
      }
      const unexplained = odd.flatMap((at) => made.streams[at]?.feature ?? []);
      ln += fit.lnLikelihood + (isChange ? bonusAt(start) : 0) + Math.log(rule.odds ?? 1);
      if (rule.operation !== null && line.operation !== null) ln += Math.log(OPERATION_ODDS);
      if (kind === "frames") ln += lnOfChoice(places.length, stretch.length);
      const evidence: Evidence[] = [];
      if (
        isChange &&
        subject !== null &&
        rule.label !== null &&
        course?.changes.some((place) => Math.abs(place - start) <= TREND_SLACK) === true
      )
        evidence.push({ code: "began with", isFor: true, label: rule.label, value: subject });
      else if (isChange && rule.event !== null)
        evidence.push({ code: "event", isFor: true, kind: rule.event, place: start });
      if (kind === "frames")
        evidence.push({ code: "frames between", isFor: true, affected: places.length, of: stretch.length });
      if (rule.cause === "gauge" && rule.label === "gauge.bore") {
        const checked = zeroCheckEvidence(
          line,
          { gauge: subject, start, kind, last, now: question.now },
          fit.sizes[0] ?? 0,
        );
        if (checked) {
          ln += checked.ln;
          evidence.push(checked.evidence);
        }
      }
      return [{ rule, kind, start, places, subject, fit, streams: made.streams, pattern, unexplained, ln, evidence }];
    });
  });
}

function ovalClock({ rule, fit, pattern, streams }: Trial): Evidence[] {
  if (!rule.moves.some(({ kind }) => kind === "oval")) return [];
  const sizeOf = (component: string): number => {
    const at = streams.findIndex(({ role }) => role.kind === "oval" && role.component === component);
    return fit.sizes[pattern.columns.findIndex(({ effect }) => (effect[at] ?? 0) > 0)] ?? 0;
  };
  const [towards12, towards130] = [sizeOf("12"), sizeOf("1:30")];
  const degrees = ((Math.atan2(towards130, towards12) * 90) / Math.PI + 180) % 180;
  return [{ code: "oval stays", isFor: true, clockHours: degrees / 30 }];
}

function evidenceOf(trial: Trial, question: CauseQuestion): Evidence[] {
  const { rule, streams, pattern, unexplained, kind } = trial;
  const named = (at: number) => streams[at]?.feature ?? [];
  const spared = streams.flatMap(({ feature }, at) => (pattern.free.has(at) ? [] : [feature]));
  const found: Evidence[] = [...trial.evidence];
  if (pattern.moved.length > 0)
    found.push({ code: "moved alike", isFor: true, features: pattern.moved.flatMap(named) });
  if (rule.cause !== "unknown") found.push({ code: "shape", isFor: true, kind });
  if (unexplained.length > 0) found.push({ code: "spared stream moved", isFor: false, features: unexplained });
  else if (spared.length > 0 && rule.cause !== "unknown") found.push({ code: "spared", isFor: true, features: spared });
  found.push(...ovalClock(trial));
  const times = question.line.closed[rule.cause] ?? 0;
  if (times > 0) found.push({ code: "often before", isFor: true, times });
  return found;
}

/**
 * Causes of a change by likelihood, with the reasons for and against each.
 *
 * @returns every cause of the table and of the plant, the likeliest at 0, the excluded ones last. A cause is excluded by its operation,
 *   by a label that does not change where it has to, and by a spared stream that moved where another cause explains all of them
 */
export function rankCauses(question: CauseQuestion): FittedCause[] {
  const { line } = question;
  const rules = [...CAUSE_RULES, ...line.ownCauses, UNKNOWN];
  const causes = [...new Set(rules.map(({ cause }) => cause))];
  const closed = causes.reduce((sum, cause) => sum + (line.closed[cause] ?? 0), 0);
  const estimates = createEstimates(question);
  const ranked = causes.map((cause) => {
    const prior =
      Math.log(((line.closed[cause] ?? 0) + 1) / (closed + causes.length)) -
      (cause === "unknown" ? Math.log(UNKNOWN_ODDS) : 0);
    const tried = rules.filter((rule) => rule.cause === cause).map((rule) => trialsOf(rule, question, estimates));
    const trials = tried.flatMap((one) => (Array.isArray(one) ? (one as Trial[]) : []));
    const best = trials.reduce<Trial | null>(
      (better, trial) => (better === null || trial.ln > better.ln ? trial : better),
      null,
    );
    const against = tried.flatMap((one) => (Array.isArray(one) ? [] : [one as Evidence]));
    return { cause, best, against, ln: best === null ? -Infinity : best.ln + prior };
  });
  const explained = Math.max(
    ...ranked.map(({ cause, best, ln }) => (cause !== "unknown" && best?.unexplained.length === 0 ? ln : -Infinity)),
  );
  const isOut = ({ cause, best, ln }: (typeof ranked)[number]): boolean =>
    best === null || (cause !== "unknown" && best.unexplained.length > 0 && ln < explained);
  const top = Math.max(...ranked.filter((one) => !isOut(one)).map(({ ln }) => ln));
  return ranked
    .map((one): FittedCause => {
      const { cause, best, against, ln } = one;
      return {
        cause,
        subject: best?.subject ?? null,
        lnOdds: isOut(one) ? null : ln - top,
        evidence:
          best === null
            ? against.length > 0
              ? against
              : [{ code: "does not fit", isFor: false }]
            : evidenceOf(best, question),
        kind: best?.kind ?? "step",
        start: best?.start ?? question.latest,
        places: best?.places ?? [],
        about: best === null ? [] : kindsOf(best.rule),
        unexplained: best?.unexplained ?? [],
      };
    })
    .sort((a, b) => (b.lnOdds ?? -Infinity) - (a.lnOdds ?? -Infinity));
}
