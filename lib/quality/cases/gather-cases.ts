import { endGains } from "../../core/control/cases/change-end";
import { changeStart, type ChangeStart, JUMP, START_LOSS } from "../../core/control/cases/change-start";
import { streamCorrelation } from "../../core/control/cases/stream-correlation";
import { sampleMean, sampleSd } from "../../core/numerics/descriptive-statistics";
import { featureNamed, type FeatureName } from "../../core/metrology/features";
import type { CharacteristicName } from "../../core/metrology/shell-drawing";
import { answerOf } from "./answer-cause";
import type { Case, CaseFeature, CaseKind, CaseLine, CaseMember, CauseRule, Signal, StreamKind } from "./case";
import { changeOf, framesToLimit, vectorChangeOf } from "./case-size";
import { CAUSE_RULES } from "./cause-table";
import { eventPlaces, labelCourse } from "./label-changes";
import { loneFrames } from "./lone-frames";
import { type FittedCause, MOVED, rankCauses } from "./rank-causes";
import { type ScoredStream, scoreStreams } from "./score-streams";
import { streamRole } from "./stream-kind";

/** Frames that a start is looked for before a signal. */
const LOOK_BACK = 150;
/** Frames before a change from which its level before is taken where levels wander. A choice, no source. */
const LOCAL_FRAMES = 40;
/** Frames after its first signal for which a case is fitted again. */
export const REFIT_FRAMES = 60;
/** Frames that a stream has to be back at its level before its case is over. A choice, no source. */
const OVER_FRAMES = 25;
/** Frames by which intervals of starts are widened when they are compared. */
const SLACK = 2;
/** Frames of a tool's life where the line tells none. A choice, no source. */
const USUAL_TOOL_LIFE = 330;
/** Frames of the baseline from which correlations are taken. */
const CORRELATED_FRAMES = 300;

/** A change that was over after so many frames was no level that stayed: single frames. A choice, no source. */
const MOST_SINGLE_FRAMES = 2;

type OpenCase = {
  readonly signals: Signal[];
  /** Streams with a signal and the side to which they went. */
  readonly sides: Map<CaseFeature, 1 | -1>;
  /** First frame from which its streams are looked at. */
  readonly from: number;
  fitted: Fitted;
  /** Frame up to which it was fitted. */
  fittedAt: number;
};

/** Signals of an open case bring a new fit after so many frames. */
const REFIT_EVERY = 5;

function refit(one: OpenCase, scores: Scores, last: number): void {
  if (last - (one.signals[0]?.place ?? last) <= REFIT_FRAMES) one.fitted = fitCase(one, scores, last);
  one.fittedAt = last;
}

type Fitted = {
  readonly start: number;
  readonly earliest: number;
  readonly latest: number;
  readonly kind: CaseKind;
  /** 2 ln likelihood of the change over none. */
  readonly gain: number;
  readonly until: number | null;
};

type Window = { readonly places: readonly number[]; readonly values: readonly number[] };

function windowOf({ scores }: ScoredStream, from: number, last: number): Window {
  const places: number[] = [];
  const values: number[] = [];
  for (let place = Math.max(0, from); place <= last; place++) {
    const score = scores[place] ?? null;
    if (score === null) continue;
    places.push(place);
    values.push(score);
  }
  return { places, values };
}

const KINDS: readonly CaseKind[] = ["step", "trend", "spread", "frames"];

type FoundStart = ChangeStart & { readonly window: Window };

/** Start of one stream's change, in places of the line; null where it has no value in the window. */
function startOf(stream: ScoredStream, from: number, last: number): FoundStart | null {
  const found = startIn(stream, from, last);
  // Where the level wanders, only the frames just before the change say from where it began.
  if (found === null || stream.wander === 0 || found.earliest - LOCAL_FRAMES <= from) return found;
  return startIn(stream, found.earliest - LOCAL_FRAMES, last);
}

function startIn(stream: ScoredStream, from: number, last: number): FoundStart | null {
  const window = windowOf(stream, from, last);
  if (window.values.length === 0) return null;
  const earlier = stream.baseline.filter((place) => place < from);
  const sum = earlier.reduce((total, place) => total + (stream.scores[place] ?? 0), 0);
  // Where shifts differ, the baseline says less of the level just before than as many frames would.
  const share = Math.min(1, 1 / Math.max(1, earlier.length * stream.wander ** 2));
  const before = { count: share * earlier.length, sum: share * sum };
  const found = changeStart(window.values, { before, wander: stream.wander, kinds: KINDS });
  const at = (index: number): number => window.places[index] ?? last;
  // Frames without a value before the first changed one may have changed as well.
  const earliest = found.earliest === 0 ? at(0) : at(found.earliest - 1) + 1;
  return { ...found, start: at(found.start), earliest, latest: at(found.latest), window };
}

/** Gain of the best kind at each place of the line from `from` on; 0 before the stream's own window. */
function gainsByPlace({ window, profiles }: FoundStart, from: number, last: number): Float64Array {
  const gains = new Float64Array(last - from + 1);
  let index = 0;
  for (let place = Math.max(from, window.places[0] ?? from); place <= last; place++) {
    while (index + 1 < window.places.length && (window.places[index] ?? 0) < place) index++;
    gains[place - from] = Math.max(...profiles.map((profile) => profile.gains[index] ?? 0));
  }
  return gains;
}

/** How much less independent correlated streams say than as many independent ones: 1 over the mean row of their correlations. */
function independence(streams: readonly ScoredStream[], from: number): number {
  const correlation = correlationOf(streams, from);
  const total = correlation.reduce((sum, r) => sum + Math.abs(r), 0);
  return streams.length / Math.max(1, total);
}

function correlationOf(streams: readonly ScoredStream[], before: number): Float64Array {
  const places = [...new Set(streams.flatMap(({ baseline }) => baseline))]
    .filter((place) => place < before)
    .sort((a, b) => a - b)
    .slice(-CORRELATED_FRAMES);
  const all = streamCorrelation(
    places.map((place) => streams.map(({ scores }) => scores[place] ?? null)),
    streams.length,
  );
  // Estimates of correlations that are none would carry a large change over to streams that it spares.
  return all.map((r, at) => {
    const [one, other] = [streams[Math.floor(at / streams.length)], streams[at % streams.length]];
    return one !== undefined && other !== undefined && familyOf(one.feature) === familyOf(other.feature) ? r : 0;
  });
}

/** Start that streams have in common: their gains added, correlated streams counting for less. */
function jointStart(
  streams: readonly ScoredStream[],
  from: number,
  last: number,
): Omit<Fitted, "until"> & { noise: number; cost: number } {
  const found = streams.flatMap((stream) => startOf(stream, from, last) ?? []);
  const [first] = found;
  if (first === undefined)
    return { start: last, earliest: last, latest: last, kind: "step", gain: 0, noise: 1, cost: 0 };
  if (found.length === 1) return { ...first, cost: 0 };
  const noise = Math.max(...found.map((one) => one.noise));
  const share = independence(streams, from);
  const profiles = found.map((one) => gainsByPlace(one, from, last));
  const joint = new Float64Array(last - from + 1);
  for (const profile of profiles) profile.forEach((gain, at) => (joint[at] = (joint[at] ?? 0) + gain * share));
  let best = 0;
  joint.forEach((gain, at) => {
    if (gain > (joint[best] ?? 0)) best = at;
  });
  const inside = [...joint.keys()].filter((at) => (joint[at] ?? 0) >= (joint[best] ?? 0) - START_LOSS * noise);
  const alone = found.reduce((sum, { gain }) => sum + gain * share, 0);
  const kinds = KINDS.map((kind) => ({
    kind,
    gain: found.reduce((sum, { profiles: of }) => sum + (of.find((one) => one.kind === kind)?.best ?? 0), 0),
  }));
  const { kind } = kinds.reduce((better, one) => (one.gain > better.gain ? one : better));
  return {
    start: from + best,
    earliest: from + (inside[0] ?? best),
    latest: from + (inside.at(-1) ?? best),
    kind,
    gain: joint[best] ?? 0,
    noise,
    cost: alone - (joint[best] ?? 0),
  };
}

type Sides = readonly (readonly [CaseFeature, 1 | -1])[];

/** Whether a cause can have begun in an interval: at its operation, and where its label or its events change if they have to. */
function mayBegin(line: CaseLine, { operation, needsChange, label, event }: CauseRule, { earliest, latest }: Interval) {
  if (operation !== null && line.operation !== null && !line.operation.toLowerCase().includes(operation)) return false;
  if (!needsChange) return true;
  const course = label === null ? null : labelCourse(line, label, latest + SLACK);
  const changes = eventPlaces(line, event, course, latest + SLACK);
  const isSilent = course?.isKnown !== true && changes.length === 0;
  return isSilent || changes.some((place) => place >= earliest - SLACK);
}

/**
 * Causes of the table that move all of these streams to these sides, and that can have begun where they may have begun together; what
 * scatters may go to both.
 */
function coveringRules(line: CaseLine, sides: Sides, common: Interval): CauseRule[] {
  const streams = sides.flatMap(([feature, sign]) => {
    const role = streamRole(feature);
    return role === null ? [] : [{ feature, sign, role }];
  });
  return [...CAUSE_RULES, ...line.ownCauses].filter((rule) => {
    if (!mayBegin(line, rule, common)) return false;
    const alike = new Map<string, number>();
    const isMoved = streams.some(({ role }) => rule.moves.some(({ kind }) => kind === role.kind));
    if (rule.moves.length > 0 && !isMoved) return false;
    return streams.every(({ feature, role, sign }) => {
      if (rule.scatters.includes(role.kind)) return true;
      const move = rule.moves.find(({ kind }) => kind === role.kind);
      if (move === undefined && !rule.may.includes(role.kind)) return false;
      if (move !== undefined && move.sign !== 0 && move.sign !== sign) return false;
      const key = move?.seats === "alike" ? `${role.kind} ${role.component ?? ""}` : feature;
      if ((alike.get(key) ?? sign) !== sign) return false;
      alike.set(key, sign);
      return true;
    });
  });
}

/** Frames without which a level that moved is not told from scatter, and mean over standard deviation from which it moved. */
const FEWEST_OF_LEVEL = 6;
const MOVED_AS_ONE = 1;

/** Rules that scatter none of these streams whose level has moved: a loose hand goes to both sides. */
function scatteringRules(
  rules: readonly CauseRule[],
  members: readonly ScoredStream[],
  from: number,
  last: number,
): readonly CauseRule[] {
  const kinds = new Set(
    members.flatMap((member) => {
      const { values } = windowOf(member, from, last);
      const isLevel =
        values.length >= FEWEST_OF_LEVEL && Math.abs(sampleMean(values)) > MOVED_AS_ONE * sampleSd(values);
      return isLevel ? member.role.kind : [];
    }),
  );
  return rules.filter(
    ({ moves, scatters }) => !scatters.some((kind) => kinds.has(kind) && !moves.some((move) => move.kind === kind)),
  );
}

/** Whether these streams may show a cause later than the others do: of frames and of a loose hand each stream has its own first one. */
function mayFollow(rules: readonly CauseRule[], later: Iterable<CaseFeature>): boolean {
  const kinds = [...later].flatMap((feature) => streamRole(feature)?.kind ?? []);
  return rules.some(
    ({ shapes, may, scatters }) =>
      (shapes.includes("frames") || shapes.includes("spread")) &&
      kinds.every((kind) => may.includes(kind) || scatters.includes(kind)),
  );
}

/** Whether a cause only scatters these streams: then where their levels seem to have moved says nothing. */
function areScattered(rules: readonly CauseRule[], features: Iterable<CaseFeature>): boolean {
  const kinds = [...features].flatMap((feature) => streamRole(feature)?.kind ?? []);
  return rules.some(({ scatters }) => kinds.every((kind) => scatters.includes(kind)));
}

/** Whether a case was first signalled when another had begun. */
function isWithin({ signals }: OpenCase, { fitted }: OpenCase): boolean {
  return (signals[0]?.place ?? -1) >= fitted.earliest;
}

/** Whether one size of a cause moves all of these streams: then starts that overlap are one. */
function isOneMove(rules: readonly CauseRule[], features: Iterable<CaseFeature>): boolean {
  const kinds = new Set([...features].flatMap((feature) => streamRole(feature)?.kind ?? []));
  const [kind] = kinds;
  return (
    kinds.size === 1 && rules.some(({ moves }) => moves.some((move) => move.kind === kind && move.seats === "alike"))
  );
}

/** Whether streams have one start in common, within what ordinary wander of the level may set them apart. */
function startTogether(members: readonly ScoredStream[], from: number, last: number): boolean {
  const loss = members.some(({ wander }) => wander > 0) ? 2 * START_LOSS : START_LOSS;
  const { cost, noise } = jointStart(members, from, last);
  return cost <= loss * noise;
}

/** Streams of a line standardised for a window, by feature. */
function createScores(line: CaseLine, now: number) {
  const made = new Map<number, ReadonlyMap<CaseFeature, ScoredStream>>();
  return (before: number): ReadonlyMap<CaseFeature, ScoredStream> => {
    const known = made.get(before);
    if (known) return known;
    const scored = new Map(scoreStreams(line, before, now + 1).map((stream) => [stream.feature, stream]));
    made.set(before, scored);
    return scored;
  };
}

type Scores = ReturnType<typeof createScores>;

function streamsOf(scores: ReadonlyMap<CaseFeature, ScoredStream>, features: Iterable<CaseFeature>): ScoredStream[] {
  return [...features].flatMap((feature) => scores.get(feature) ?? []);
}

/** Streams that say when a change began: a tilt is the length of a vector, which hardly grows at first where the offset tells more. */
function tellingStart(members: readonly ScoredStream[]): readonly ScoredStream[] {
  const hasOffset = members.some(({ role }) => role.kind === "offset");
  return hasOffset ? members.filter(({ role }) => role.kind !== "tilt") : members;
}

/** Fits start, kind and end of a case anew with the frames up to `last`. */
function fitCase(open: Omit<OpenCase, "fitted" | "fittedAt">, scores: Scores, last: number): Fitted {
  const signal = open.signals[0]?.place ?? last;
  const refit = Math.min(last, signal + REFIT_FRAMES);
  const scored = scores(signal);
  const members = tellingStart(streamsOf(scored, open.sides.keys()));
  const first = jointStart(members, open.from, refit);
  // Where it ended in between, what came after says nothing of its start.
  const end = endOf(members, first, last);
  if (end === null || end >= refit) return { ...first, until: end };
  return { ...jointStart(members, open.from, Math.max(signal, end)), until: end };
}

/** Last frame of a change that is over: its streams together say that they are back, for OVER_FRAMES frames. */
function endOf(members: readonly ScoredStream[], { start, kind }: Omit<Fitted, "until">, last: number): number | null {
  const found = members.flatMap((member) => {
    const { places, values } = windowOf(member, start, last);
    return values.length === 0 ? [] : [{ places, values, gains: endGains(values, 0, kind) }];
  });
  if (found.length === 0) return null;
  const share = independence(members, start);
  const joint = new Float64Array(last - start + 1);
  // Of frames that jump, the stream that shows them best says which was the last.
  const clearest = found.reduce((better, one) => (Math.max(...one.gains) > Math.max(...better.gains) ? one : better));
  const jumped = new Set(clearest.places.filter((_, at) => Math.abs(clearest.values[at] ?? 0) > JUMP));
  for (const { places, gains } of found) {
    let index = -1;
    for (let place = start; place <= last; place++) {
      if (places[index + 1] === place) index++;
      joint[place - start] = (joint[place - start] ?? 0) + share * (gains[index] ?? 0);
    }
  }
  let end = start;
  joint.forEach((gain, at) => {
    if (kind === "frames" && !jumped.has(start + at)) return;
    if (gain > (joint[end - start] ?? 0) || (kind === "frames" && !jumped.has(end))) end = start + at;
  });
  const isBack = (joint[end - start] ?? 0) - (joint.at(-1) ?? 0) > START_LOSS;
  const framesSince = clearest.places.filter((place) => place > end).length;
  return isBack && framesSince >= OVER_FRAMES ? end : null;
}

/** Notes the end of an open case that is over by now. What comes later changes it no more. */
function closeWhereOver(one: OpenCase, scores: Scores, last: number): void {
  if (one.fitted.until !== null) return;
  const signal = one.signals[0]?.place ?? last;
  const members = tellingStart(streamsOf(scores(signal), one.sides.keys()));
  const until = endOf(members, one.fitted, last);
  // What came after its end says nothing of its start and its kind.
  if (until !== null) one.fitted = { ...jointStart(members, one.from, Math.max(signal, until)), until };
}

/** By frame; those of one frame by stream, so that the order in which they come changes nothing. */
function inOrder(a: Signal, b: Signal): number {
  return a.place - b.place || a.feature.localeCompare(b.feature) || a.sign - b.sign || a.test.localeCompare(b.test);
}

/** Puts each signal into an open case that it belongs to, or opens one. */
function openCases(line: CaseLine, signals: readonly Signal[], scores: Scores): OpenCase[] {
  const cases: OpenCase[] = [];
  for (const signal of [...signals].sort(inOrder)) {
    if (streamRole(signal.feature) === null) continue;
    for (const one of cases) closeWhereOver(one, scores, signal.place);
    const stillOpen = cases.filter(({ fitted }) => fitted.until === null);
    const own = stillOpen.find(({ sides }) => sides.get(signal.feature) === signal.sign);
    if (own) {
      own.signals.push(signal);
      if (signal.place - own.fittedAt < REFIT_EVERY) continue;
      refit(own, scores, signal.place);
      mergeCases(line, cases, scores, signal.place);
      continue;
    }
    const from = windowStart(cases, signal);
    const found = startOfSignal(scores, signal, from);
    const joined = found && stillOpen.find((one) => belongsTo(line, one, signal, found, scores));
    if (joined) {
      joined.signals.push(signal);
      joined.sides.set(signal.feature, signal.sign);
      refit(joined, scores, signal.place);
      mergeCases(line, cases, scores, signal.place);
      continue;
    }
    const opened = { signals: [signal], sides: new Map([[signal.feature, signal.sign]]), from };
    cases.push({ ...opened, fitted: fitCase(opened, scores, signal.place), fittedAt: signal.place });
    mergeCases(line, cases, scores, signal.place);
  }
  return cases;
}

function startOfSignal(scores: Scores, signal: Signal, from: number) {
  const stream = scores(signal.place).get(signal.feature);
  return stream ? startOf(stream, from, signal.place) : null;
}

/** First frame that a new case of a stream may look at: after what earlier cases of the stream took. */
function windowStart(cases: readonly OpenCase[], signal: Signal): number {
  const taken = cases
    .filter(({ sides }) => sides.has(signal.feature))
    .map(({ fitted }) => (fitted.until ?? fitted.latest) + 1);
  return Math.min(signal.place, Math.max(0, signal.place - LOOK_BACK, ...taken));
}

/** The three conditions: intervals that overlap, one cause that covers all, a common start that costs little. */
function belongsTo(line: CaseLine, one: OpenCase, signal: Signal, found: ChangeStart, scores: Scores): boolean {
  const features = new Set([...one.sides.keys(), signal.feature]);
  const members = streamsOf(scores(one.signals[0]?.place ?? signal.place), features);
  const covering = coveringRules(line, [...one.sides, [signal.feature, signal.sign]], common(one.fitted, found));
  const rules = scatteringRules(covering, members, Math.max(one.fitted.start, found.start), signal.place);
  if (rules.length === 0) return false;
  if (found.latest >= one.fitted.earliest && mayFollow(rules, [signal.feature])) return true;
  if (signal.place >= one.fitted.earliest && areScattered(rules, [signal.feature])) return true;
  if (!overlap(one.fitted, found)) return false;
  return isOneMove(rules, features) || startTogether(members, one.from, signal.place);
}

type Interval = { readonly earliest: number; readonly latest: number };

/** Where two changes may have begun together; between them where their intervals do not meet. */
function common(a: Interval, b: Interval): Interval {
  const [from, to] = [Math.max(a.earliest, b.earliest), Math.min(a.latest, b.latest)];
  return { earliest: Math.min(from, to), latest: Math.max(from, to) };
}

function overlap(a: Interval, b: Interval): boolean {
  return a.earliest - SLACK <= b.latest + SLACK && b.earliest - SLACK <= a.latest + SLACK;
}

/** Makes one of two open cases that a stream between them has shown to be one change. */
function mergeCases(line: CaseLine, cases: OpenCase[], scores: Scores, last: number): void {
  for (const [at, later] of [...cases.entries()].reverse()) {
    const into = cases.slice(0, at).find((one) => {
      if (one.fitted.until !== null || later.fitted.until !== null) return false;
      const features = new Set([...one.sides.keys(), ...later.sides.keys()]);
      const members = streamsOf(scores(one.signals[0]?.place ?? last), features);
      const covering = coveringRules(line, [...one.sides, ...later.sides], common(one.fitted, later.fitted));
      const rules = scatteringRules(covering, members, Math.max(one.fitted.start, later.fitted.start), last);
      if (rules.length === 0) return false;
      if (later.fitted.latest >= one.fitted.earliest && mayFollow(rules, later.sides.keys())) return true;
      if (isWithin(later, one) && areScattered(rules, later.sides.keys())) return true;
      if (isWithin(one, later) && areScattered(rules, one.sides.keys())) return true;
      if (!overlap(one.fitted, later.fitted)) return false;
      return isOneMove(rules, features) || startTogether(members, one.from, last);
    });
    if (!into) continue;
    into.signals.push(...later.signals);
    into.signals.sort(inOrder);
    for (const [feature, sign] of later.sides) if (!into.sides.has(feature)) into.sides.set(feature, sign);
    cases.splice(at, 1);
    refit(into, scores, last);
  }
}

function signOf(scored: ScoredStream, from: number, last: number): 1 | -1 {
  const { values } = windowOf(scored, from, last);
  return values.reduce((sum, value) => sum + value, 0) < 0 ? -1 : 1;
}

/** Streams without a signal that moved with the others at p < 0.001, by a step or a trend from the common start on. */
function alsoMoved(streams: readonly ScoredStream[], fitted: Fitted, last: number, kind: CaseKind): ScoredStream[] {
  return streams.filter((stream) => {
    const { places, values } = windowOf(stream, fitted.start, last);
    if (values.length === 0) return false;
    const weights = places.map((place) => (kind === "trend" ? place - fitted.start + 1 : 1));
    const squares = weights.reduce((sum, weight) => sum + weight * weight, 0);
    const product = weights.reduce((sum, weight, at) => sum + weight * (values[at] ?? 0), 0);
    const usual = stream.levelError * weights.reduce((sum, weight) => sum + weight, 0);
    return Math.abs(product) > MOVED * Math.hypot(Math.sqrt(squares), usual);
  });
}

/** Streams that see one thing of the shell, so that a case that has one of them has the others. */
const FAMILIES: Readonly<Record<StreamKind, string>> = {
  bore: "size",
  spread: "form",
  ovality: "form",
  oval: "form",
  taper: "taper",
  offset: "axis",
  tilt: "axis",
  face: "face",
  width: "width",
};

function familyOf(feature: CaseFeature): string {
  const role = streamRole(feature);
  return role === null ? feature : FAMILIES[role.kind];
}

/** Everything that is said of a case. */
function describe(line: CaseLine, one: OpenCase, all: readonly OpenCase[], scores: Scores, now: number) {
  const signal = one.signals[0]?.place ?? now;
  const { fitted } = one;
  const scored = scores(signal);
  const families = new Set([...one.sides.keys()].map(familyOf));
  const elsewhere = all.filter(
    ({ fitted: other }) =>
      other !== fitted && other.earliest <= (fitted.until ?? now) && (other.until ?? now) >= fitted.earliest,
  );
  const taken = new Set(elsewhere.flatMap(({ sides }) => [...sides.keys()].map(familyOf)));
  const isElsewhere = (feature: CaseFeature): boolean =>
    !one.sides.has(feature) && taken.has(familyOf(feature)) && !families.has(familyOf(feature));
  const streams = [...scored.values()].filter(({ feature }) => !isElsewhere(feature));
  const last = Math.min(fitted.until ?? now, now, signal + REFIT_FRAMES);
  const causes = rankCauses({
    line,
    streams,
    correlation: correlationOf(streams, fitted.earliest),
    members: [...one.sides.keys()],
    earliest: fitted.earliest,
    latest: Math.min(fitted.latest, last),
    last,
    now,
  });
  const [best] = causes;
  const isNamed = best !== undefined && best.cause !== "unknown" && best.lnOdds !== null;
  const kind = isNamed && best.unexplained.length === 0 ? best.kind : fitted.kind;
  const others = streams.filter(({ feature }) => !one.sides.has(feature));
  const along = alsoMoved(others, fitted, last, kind === "trend" ? "trend" : "step");
  return { streams, causes, kind, last, along, best };
}

/**
 * Gathers the signals of one line into cases, each one change with its start, its kind, its size and its causes.
 *
 * @param line - frames, streams and what happened, up to the present; its own length is the present
 * @param signals - of the line's streams, in any order
 * @returns cases in the order in which they were opened
 */
export function gatherCases(line: CaseLine, signals: readonly Signal[]): Case[] {
  const now = line.frames.length - 1;
  const scores = createScores(line, now);
  const opened = openCases(line, signals, scores);
  for (const one of opened) {
    closeWhereOver(one, scores, now);
    if (one.fitted.until === null) one.fitted = fitCase(one, scores, now);
  }
  mergeCases(line, opened, scores, now);
  const gathered: Case[] = [];
  for (const one of opened) {
    if (isFaint(one)) {
      gathered.push(...loneFrames(line, one.signals));
      continue;
    }
    const { streams, causes, kind: likeliest, last, along } = describe(line, one, opened, scores, now);
    const { start, earliest, latest, until } = one.fitted;
    const kind = until !== null && until - start + 1 <= MOST_SINGLE_FRAMES ? "frames" : likeliest;
    const places = placesOfCase(causes, start, last);
    const members = [
      ...streamsOf(scores(one.signals[0]?.place ?? now), one.sides.keys()).map((scored) => ({
        scored,
        by: "signal" as const,
      })),
      ...along.map((scored) => ({ scored, by: "also moved" as const })),
    ].map(({ scored, by }) => ({
      scored,
      member: {
        feature: scored.feature,
        by,
        sign: one.sides.get(scored.feature) ?? signOf(scored, start, last),
        change: changeOf(scored, kind, start, places),
      } satisfies CaseMember,
      size: sizeInSd(scored, places),
    }));
    members.sort((a, b) => b.size - a.size);
    const lead = leadOf(members, causes);
    if (lead === undefined) continue;
    const isOver = until !== null;
    const vector = streams.filter(({ role }) => role.kind === "offset");
    const { change, towards } =
      lead.scored.role.kind === "offset"
        ? vectorChangeOf(vector, kind, start, places)
        : { change: lead.member.change, towards: null };
    const left = isOver ? [] : members.flatMap(({ scored }) => framesToLimit(scored, kind, start, last, now) ?? []);
    gathered.push({
      line: line.line,
      operation: line.operation,
      members: [lead, ...members.filter((one) => one !== lead)].map(({ member }) => member),
      signals: one.signals,
      kind,
      since: { place: start, earliest, latest },
      until,
      change,
      towards,
      lead: lead.member.feature,
      causes: causes.map(({ cause, subject, lnOdds, evidence }) => ({ cause, subject, lnOdds, evidence })),
      answer: answerOf(causes),
      outside: outsidePlaces(
        line,
        members.map(({ member }) => member.feature),
        start,
        until ?? now,
      ),
      framesToLimit: left.length === 0 ? null : Math.min(...left),
      backAgain: backAgain(line, gathered, causes, start),
    });
  }
  return gathered;
}

/** 2 ln likelihood under which nothing but the limit says that anything changed. A choice, no source. */
const FAINT = 2 * START_LOSS;

/** Frames outside a limit that their streams do not take for changed. */
function isFaint({ signals, fitted }: OpenCase): boolean {
  return fitted.gain < FAINT && signals.every(({ test }) => test === "outside");
}

type SizedMember = { readonly scored: ScoredStream; readonly member: CaseMember };

/**
 * The member whose size is that of the case: one of the kinds that the likeliest cause moves, as that names them first; else the one
 * that moved most. The ovals and the tilt say in other numbers what ovality and offset say.
 */
function leadOf<Member extends SizedMember>(
  members: readonly Member[],
  [best]: readonly FittedCause[],
): Member | undefined {
  const kinds = best === undefined || best.lnOdds === null ? [] : best.about;
  const own = kinds
    .filter((kind) => kind !== "oval")
    .map((kind) => members.find(({ scored }) => scored.role.kind === kind))
    .find((member) => member !== undefined);
  const hasOffset = members.some(({ scored }) => scored.role.kind === "offset");
  return (
    own ??
    members.find(({ scored: { role } }) => role.kind !== "oval" && !(hasOffset && role.kind === "tilt")) ??
    members[0]
  );
}

/** Frames that the likeliest cause takes for changed, else all from the start on. */
function placesOfCase(causes: readonly FittedCause[], start: number, last: number): readonly number[] {
  const [best] = causes;
  if (best !== undefined && best.lnOdds !== null && best.places.length > 0) return best.places;
  return Array.from({ length: last - start + 1 }, (_, at) => start + at);
}

function sizeInSd({ scores }: ScoredStream, places: readonly number[]): number {
  const values = places.flatMap((place) => scores[place] ?? []);
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / Math.max(1, values.length));
}

/** Frames of the case that lie outside a limit in what its members measure. */
function outsidePlaces(line: CaseLine, features: readonly CaseFeature[], from: number, to: number): number[] {
  const roles = features.flatMap((feature) => streamRole(feature) ?? []);
  const isMeant = (feature: FeatureName): boolean => {
    const { characteristic, seat } = featureNamed(feature);
    const kinds = CHARACTERISTIC_KINDS[characteristic];
    return roles.some(
      (role) => kinds.includes(role.kind) && (role.seat === null || seat === null || role.seat === seat),
    );
  };
  const places: number[] = [];
  for (let place = from; place <= to; place++)
    if (line.frames[place]?.outside.some(isMeant) === true) places.push(place);
  return places;
}

/** Kinds of stream that a judged characteristic is seen in. */
const CHARACTERISTIC_KINDS: Readonly<Record<CharacteristicName, readonly StreamKind[]>> = {
  bore: ["bore", "spread", "ovality", "taper"],
  ovality: ["ovality", "spread", "oval"],
  taper: ["taper"],
  coaxiality: ["offset"],
  tilt: ["tilt", "offset"],
  "face run-out": ["face"],
  width: ["width"],
};

/** The earlier case of the same first cause that ended within a tool's life before this one. */
function backAgain(
  line: CaseLine,
  earlier: readonly Case[],
  causes: readonly FittedCause[],
  start: number,
): number | null {
  const [best] = causes;
  if (best === undefined || best.lnOdds === null || best.cause === "unknown") return null;
  const tools = line.events.filter(({ kind }) => kind === "tool").length;
  const life = tools > 1 ? line.frames.length / tools : USUAL_TOOL_LIFE;
  const found = earlier.findLastIndex(
    ({ causes: of, until }) => of[0]?.cause === best.cause && until !== null && start > until && start - until <= life,
  );
  return found < 0 ? null : found;
}
