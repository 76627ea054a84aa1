import "server-only";
import { createHash } from "node:crypto";
import type pg from "pg";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { ALARM_STREAMS, type AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import {
  type ApprovableBaseline,
  type ApprovalRefusal,
  type BaselinePreview,
  PREVIEWED_FRAMES,
  previewBaselines,
  proposeBaseline,
} from "@/lib/quality/alarm/approve-baseline";
import { type ShiftFrame, shiftSpread, type ShiftSpread } from "@/lib/quality/alarm/shift-spread";
import { UNKNOWN_WEAR_SD } from "@/lib/quality/alarm/run-line";
import type { WatchedStream } from "@/lib/quality/alarm/watch-line";
import { shiftsOf } from "@/lib/quality/cases/shifts-of";
import { alarmKeyOfChart, streamsOfCase } from "@/lib/quality/cases/streams-of-case";
import { type BaselineWish, MOST_BASELINE_FRAMES } from "@/lib/schemas/baseline";
import { driftCaseColumns } from "../db/columns/drift-case";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { streamBaselineColumns } from "../db/columns/stream-baseline";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { readBaselineRows } from "../drift/baseline-frames";
import { streamOf } from "../drift/charted-frames";
import type { ReferenceData } from "../evidence/reference-data";
import { standingOf, type Watch } from "./advance-watch";
import { readSchemes, runLengthAt } from "./alarm-scheme";
import { lineColumnsOf } from "./line-columns";
import { boreReadings, type WatchGrounds } from "./watch-grounds";
import { readWatchedRows, type WatchedRow } from "./watched-frames";

/** Frames back in which those of a baseline are looked for. */
const LOOKED_BACK = 5000;

const headColumns = streamColumns("st", ["id", "feature", "lineId", "operationId", "drawingId"]);

/** A charted stream, and the stream of alarms under which it speaks. */
export type BaselineHead = RowOf<typeof headColumns> & { readonly stream: AlarmStream };

/** @throws AppError not-found */
export async function readBaselineHead(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  streamId: string,
): Promise<BaselineHead> {
  const { rows } = await db.query<RowOf<typeof headColumns>>(sql`
    select ${headColumns} from stream st where st.plant_id = ${plantId} and st.id::text = ${streamId}`);
  const head = rows[0];
  const key = head === undefined ? null : alarmKeyOfChart(streamOf(head.feature).feature);
  const stream = ALARM_STREAMS.find((one) => one.key === key);
  if (head === undefined || stream === undefined)
    throw new AppError("not-found", "There is no such stream. Choose one under Drift.");
  return { ...head, stream };
}

const content = drawingRevisionColumns("r", ["content"]);

/** What baselines of a group are made with. */
export async function readWatchGrounds(
  db: pg.ClientBase,
  plantId: string,
  head: BaselineHead,
  reference: ReferenceData,
): Promise<WatchGrounds> {
  const { rows } = await db.query<RowOf<typeof content>>(sql`
    select ${content} from drawing_revision r where r.plant_id = ${plantId} and r.drawing_id = ${head.drawingId}
      and r.state = 'released' order by r.released_at desc limit 1`);
  const drawing = rows[0]?.content as ShellDrawing | undefined;
  if (drawing === undefined)
    throw new AppError("refused", "The drawing of this stream is not released. Release it first; nothing was changed.");
  const schemes = await readSchemes(db, plantId);
  return { drawing, boreReadings: boreReadings(reference, head), schemes, unknownWearSd: UNKNOWN_WEAR_SD };
}

const openCase = driftCaseColumns("c", ["id", "number", "found"]);

/** An open case of a stream. */
export type OpenCase = { readonly id: string; readonly number: number };

/** The cases of a stream that are open and stand. */
export async function openCasesOf(db: pg.ClientBase, plantId: string, watch: Watch, key: AlarmStream["key"]) {
  const { rows } = await db.query<RowOf<typeof openCase> & { signalled: readonly string[] }>(sql`
    select ${openCase}, array(select split_part(s, ' ', 2) from unnest(c.signals) s) as signalled
    from drift_case c where c.plant_id = ${plantId} and c.watch_id = ${watch.id} and c.state = 'open' and c.stands
    order by c.number`);
  return rows
    .filter(({ found, signalled }) => streamsOfCase(found, signalled).has(key))
    .map(({ id, number }): OpenCase => ({ id, number }));
}

const place = together(
  inspectionColumns("i", { id: "id", at: "measuredAt", tool: "tool" }),
  frameColumns("f", ["serial"]),
);
type Place = RowOf<typeof place> & {
  readonly hasValue: boolean;
  /** Value of the stream, and the second one of a vector; null where the frame has none or does not conform. */
  readonly value: number | null;
  readonly second: number | null;
};

/** The newest frames of a group that were watched, oldest first. */
async function readPlaces(db: pg.ClientBase, plantId: string, watch: Watch, { key }: AlarmStream): Promise<Place[]> {
  const column = FEATURE_NAMES.indexOf(key === "offset" ? "offset.12" : key) + 1;
  const beside = key === "offset" ? FEATURE_NAMES.indexOf("offset.3") + 1 : column;
  const { rows } = await db.query<Place>(sql`
    select ${place}, i.features[${column}::int] is not null as "hasValue",
      case when i.verdict = 'conforms' then i.features[${column}::int] end as value,
      case when i.verdict = 'conforms' then i.features[${beside}::int] end as second
    from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    where i.plant_id = ${plantId} and i.line_id = ${watch.lineId} and i.operation_id = ${watch.operationId}
      and i.drawing_id = ${watch.drawingId} and i.ordinal = 1 and ${notWithdrawn}
      and (i.measured_at, i.id) <= (${watch.newestAt}::timestamptz, ${watch.newestId}::uuid)
    order by i.measured_at desc, i.id desc limit ${LOOKED_BACK}`);
  return rows.reverse();
}

/** Frames that the tool had cut at each place, counted as the watch counts them; it knows how many at the newest. */
function agesOf(places: readonly Place[], newest: number): ReadonlyMap<string, number> {
  const ages = new Map<string, number>();
  let tool: string | null = null;
  let age = 0;
  let changed = false;
  for (const { id, tool: own } of places) {
    const isOther: boolean = own !== null && tool !== null && own !== tool;
    tool = own ?? tool;
    age = isOther ? 1 : age + 1;
    changed ||= isOther;
    ages.set(id, age);
  }
  const missing = changed ? 0 : Math.max(0, newest - age);
  return missing === 0 ? ages : new Map([...ages].map(([id, counted]) => [id, counted + missing]));
}

function chosenOf(places: readonly Place[], { stretch }: BaselineWish): readonly Place[] {
  const valued = places.filter(({ hasValue }) => hasValue);
  if ("newest" in stretch) return valued.slice(-stretch.newest);
  const find = (serial: string): number => {
    const at = valued.findIndex((one) => one.serial === serial);
    if (at < 0)
      throw new AppError(
        "invalid-input",
        `Frame ${serial} is not among the newest ${LOOKED_BACK} of this stream. Nothing was changed; choose another one.`,
      );
    return at;
  };
  const [from, to] = [find(stretch.from), find(stretch.to)];
  if (from > to)
    throw new AppError(
      "invalid-input",
      `Frame ${stretch.from} was measured after ${stretch.to}. Nothing was changed; put the earlier one first.`,
    );
  return valued.slice(from, to + 1);
}

const startOf = streamBaselineColumns("b", ["started", "frames"]);

/** Everything that a proposal rests on. */
export type BaselineGround = {
  readonly head: BaselineHead;
  readonly watch: Watch;
  readonly grounds: WatchGrounds;
  /** Where the stream stands now. */
  readonly running: WatchedStream["running"];
  /** It has begun and has no baseline yet: frames that it waits with. */
  readonly starting: number;
  readonly places: readonly Place[];
  readonly ages: ReadonlyMap<string, number>;
  readonly open: readonly OpenCase[];
  /** What its shifts differ by; null where fewer than 20 tell it. */
  readonly shifts: ShiftSpread | null;
};

const changedSpan = driftCaseColumns("c", ["sinceAt", "overAt", "closedAt", "found"]);

/** The spans of a stream's cases: what they show is no ordinary difference. */
async function changedSpans(db: pg.ClientBase, plantId: string, watch: Watch, key: AlarmStream["key"]) {
  const { rows } = await db.query<RowOf<typeof changedSpan> & { signalled: readonly string[] }>(sql`
    select ${changedSpan}, array(select split_part(s, ' ', 2) from unnest(c.signals) s) as signalled
    from drift_case c where c.plant_id = ${plantId} and c.watch_id = ${watch.id} and c.state <> 'joined' and c.stands`);
  return rows
    .filter(({ found, signalled }) => streamsOfCase(found, signalled).has(key))
    .map(({ sinceAt, overAt, closedAt }) => ({ from: sinceAt, to: overAt ?? closedAt }));
}

/** What shifts of a stream ordinarily differ by, from its newest frames; of a vector the mean of both directions. */
async function shiftsOfStream(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  stream: AlarmStream,
  places: readonly Place[],
): Promise<ShiftSpread | null> {
  const spans = await changedSpans(db, plantId, watch, stream.key);
  const shifts = shiftsOf(places.map(({ at }) => at.getTime()));
  const isChanged = ({ at }: Place) => spans.some(({ from, to }) => at >= from && (to === null || at <= to));
  const framesOf = (of: (one: Place) => number | null) =>
    places.flatMap((one, at): ShiftFrame[] => {
      const value = of(one);
      return value === null || isChanged(one) ? [] : [{ value, shift: shifts[at] ?? "", tool: one.tool }];
    });
  const first = shiftSpread(framesOf(({ value }) => value));
  if (stream.kind !== "vector" || first === null) return first;
  const second = shiftSpread(framesOf((one) => one.second));
  return second === null ? null : { ...first, sd: Math.hypot(first.sd, second.sd) / Math.SQRT2 };
}

/** Reads what proposals of a stream rest on. @throws AppError refused where its frames are not watched yet */
export async function readBaselineGround(
  db: pg.ClientBase,
  plantId: string,
  head: BaselineHead,
  watch: Watch | null,
  grounds: WatchGrounds,
): Promise<BaselineGround> {
  if (watch === null || watch.newestAt === null)
    throw new AppError(
      "refused",
      "The frames of this stream were not looked at yet; that takes a minute after they were recorded. Nothing was changed; try again then.",
    );
  const standing = await standingOf(db, plantId, watch, grounds);
  const own = standing.streams.find(({ key }) => key === head.stream.key);
  const places = await readPlaces(db, plantId, watch, head.stream);
  return {
    head,
    watch,
    grounds,
    running: own?.running ?? null,
    starting: own?.starting.length ?? 0,
    places,
    ages: agesOf(places, standing.tool.age),
    open: await openCasesOf(db, plantId, watch, head.stream.key),
    shifts: await shiftsOfStream(db, plantId, watch, head.stream, places),
  };
}

/** Run length that the budget gives a stream now. */
export function runLengthNow({ grounds, watch, head }: BaselineGround): number {
  return runLengthAt(grounds.schemes, watch)(head.stream, new Date());
}

const runSettings = ({ grounds, watch, shifts }: BaselineGround) => {
  const runLength = runLengthAt(grounds.schemes, watch);
  return {
    runLength: (stream: AlarmStream) => runLength(stream, new Date()),
    unknownWearSd: grounds.unknownWearSd,
    ...(shifts === null ? {} : { ordinary: () => ({ betweenShiftSd: shifts.sd }) }),
  };
};

/** Rows of a stream as columns, with the ages of its tools. */
export const groundColumns = ({ ages, grounds }: BaselineGround, rows: readonly WatchedRow[]) =>
  lineColumnsOf(
    rows,
    rows.map(({ id }, at) => ages.get(id) ?? at + 1),
    grounds,
  );

/** The baseline that runs by itself, made again of its frames with its edges; null where that is not possible. */
export async function automaticBaseline(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
): Promise<{ readonly baseline: ApprovableBaseline; readonly rows: readonly WatchedRow[] } | null> {
  const { running, head } = ground;
  if (running === null) return null;
  const rows = await readWatchedRows(db, plantId, running.baseline);
  const choice = { isChosen: () => true, hasCause: () => false, hasOpenCase: false, isReason: false };
  const settings = { ...runSettings(ground), region: running.region };
  const made = proposeBaseline(groundColumns(ground, rows), head.stream, choice, settings);
  return made.ok ? { baseline: made.baseline, rows } : null;
}

/** What the stream in force begins with: as it was signed, or made again. */
export async function currentStart(db: pg.ClientBase, plantId: string, ground: BaselineGround) {
  const { running, watch, head } = ground;
  if (running?.version === undefined) return (await automaticBaseline(db, plantId, ground))?.baseline ?? null;
  const { rows } = await db.query<RowOf<typeof startOf>>(sql`
    select ${startOf} from stream_baseline b where b.plant_id = ${plantId} and b.watch_id = ${watch.id}
      and b.stream = ${head.stream.key} and b.version = ${running.version}`);
  return rows[0] ?? null;
}

/** A baseline as it is proposed to a person. */
export type Proposal = {
  readonly rows: readonly WatchedRow[];
  readonly chosen: readonly Place[];
  readonly baseline: ApprovableBaseline;
  /** Of the frames that it is made of: what is signed is what was shown. */
  readonly digest: string;
};

export type ProposalResult =
  { readonly ok: true; readonly proposal: Proposal } | { readonly ok: false; readonly refusal: ApprovalRefusal };

/**
 * Makes the baseline that a person wishes.
 *
 * @throws AppError invalid-input for a frame that is not there, or a cause of one that is no outlier
 */
export async function makeProposal(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
  wish: BaselineWish,
): Promise<ProposalResult> {
  const { head, watch, open } = ground;
  const chosen = chosenOf(ground.places, wish);
  if (chosen.length > MOST_BASELINE_FRAMES)
    throw new AppError(
      "invalid-input",
      `A baseline has at most ${MOST_BASELINE_FRAMES} frames; these are ${chosen.length}. Nothing was changed; choose a shorter stretch.`,
    );
  if (wish.caseId !== null && open.every(({ id }) => id !== wish.caseId))
    throw new AppError(
      "invalid-input",
      "The case that is given as the reason is not an open case of this stream. Nothing was changed; look again.",
    );
  const isIn = new Set(chosen.map(({ id }) => id));
  const [first, last] = [chosen[0], chosen.at(-1)];
  const candidates = await readBaselineRows(db, plantId, watch, {
    from: first?.at ?? null,
    to: last?.at ?? null,
    end: "newest",
    most: LOOKED_BACK,
    reason: wish.caseId,
  });
  const explained = new Set(candidates.filter(({ causes }) => causes.includes(head.id)).map(({ id }) => id));
  const newest = ground.places.filter(({ hasValue }) => hasValue).slice(-PREVIEWED_FRAMES);
  const rows = await readWatchedRows(db, plantId, [...new Set([...isIn, ...newest.map(({ id }) => id)])]);
  const idOf = (frame: number) => rows[frame]?.id ?? "";
  const propose = (causes: ReadonlySet<string>) =>
    proposeBaseline(
      groundColumns(ground, rows),
      head.stream,
      {
        isChosen: (frame) => isIn.has(idOf(frame)),
        hasCause: (frame) => explained.has(idOf(frame)) || causes.has(idOf(frame)),
        hasOpenCase: open.some(({ id }) => id !== wish.caseId),
        isReason: false,
      },
      runSettings(ground),
    );
  const whole = propose(new Set());
  if (!whole.ok) return whole;
  const outliers = new Set(whole.baseline.outliers.map(idOf));
  const odd = wish.causes.find(({ frame }) => !outliers.has(frame));
  if (odd !== undefined)
    throw new AppError(
      "invalid-input",
      "A cause was given for a frame that does not lie far from the others: it stays in the baseline. Nothing was changed; take the cause out.",
    );
  const made = wish.causes.length === 0 ? whole : propose(new Set(wish.causes.map(({ frame }) => frame)));
  if (!made.ok) return made;
  // What leaves by its cause stays listed.
  const baseline = { ...made.baseline, outliers: whole.baseline.outliers };
  const digest = createHash("sha256").update(baseline.frames.map(idOf).join()).digest("hex");
  return { ok: true, proposal: { rows, chosen, baseline, digest } };
}

/** What the baseline in force and a proposed one would each have signalled. */
export async function previewProposal(
  db: pg.ClientBase,
  plantId: string,
  ground: BaselineGround,
  { rows, baseline }: Proposal,
): Promise<BaselinePreview> {
  const newest = rows.slice(-PREVIEWED_FRAMES);
  const current = await currentStart(db, plantId, ground);
  return previewBaselines(groundColumns(ground, newest), ground.head.stream, current, baseline);
}
