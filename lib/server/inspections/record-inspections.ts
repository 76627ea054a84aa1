import "server-only";
import { setImmediate } from "node:timers/promises";
import type pg from "pg";
import { CoreError } from "@/lib/core/errors";
import { CORE_VERSION } from "@/lib/core/version";
import { AppError } from "@/lib/errors";
import { doubtText } from "@/lib/format/judging-words";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { assertTokenDevice, tieToDevice } from "../auth/device-tie";
import { assertMay } from "../auth/permissions";
import { type Viewer, actorOf } from "../auth/viewer";
import { hurry, inSlices } from "../base/take-turns";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { allEnded, inSqlTransaction, type WithCommit } from "../db/transaction";
import { growStreams } from "../drift/grow-streams";
import { askedOf } from "../evidence/batch-plan";
import { followLine } from "../evidence/case-work";
import { gaugeDoubts, overdueAmong } from "../evidence/gauge-use";
import { type ReferenceData, getReferenceDataFor, withGaugesAsNow } from "../evidence/reference-data";
import { type ChainHead, lockChain, lockKnownChain, sendEntry } from "../journal/append-journal";
import { rowHash } from "../journal/vouched-rows";
import { type StateSubject, subjectsWritten } from "../journal/written-rows";
import { checkInspection } from "./check-inspection";
import { FrameHistory } from "./frame-history";
import { gatherWork, MOST_BESIDE_FEW } from "./gather-work";
import { keepHistories, readHistories } from "./kept-histories";
import { ownFindings } from "./own-findings";
import { placeInspection } from "./place-inspection";
import type { FrameNow, PlacedInspection } from "./placed-inspection";
import type { InspectionRecorded, InspectionRefused, JudgedInspection, RecordingOutcome } from "./recorded";
import { lookAlikes, readForRecording } from "./recording-reads";
import { type InspectionRow, inspectionRow, writeRecording } from "./recording-writes";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.recordInspections;

const refusal = (input: RecordInspection, error: AppError): InspectionRefused => ({
  id: input.id,
  serial: input.serial,
  status: "refused",
  error,
});

/** Nobody sends from more devices at once; what names more is no device's. */
const MOST_DEVICES = 50;

/** What is wrong with one inspection alone, in words; anything else is thrown on. */
function asAppError(error: unknown): AppError {
  if (error instanceof AppError) return error;
  if (error instanceof CoreError)
    return new AppError("invalid-input", words.nothingWasStoredReadings(error.message), {
      cause: error,
    });
  const kind = readDatabaseRefusal(error)?.kind;
  if (kind === "data" || kind === "check")
    return new AppError("invalid-input", words.valueOfCannotBeStored, {
      cause: error,
    });
  throw error;
}

type Line = { readonly plantId: string; readonly key: string; readonly reference: ReferenceData };

type WrittenInspection = { readonly one: PlacedInspection; readonly row: InspectionRow };

type VouchedInspection = WrittenInspection & { readonly hash: string };

/**
 * One entry for each of those who sent something in this transaction, in the order of their first inspection. The first one
 * vouches for what became of the frames, too. They are written with the commit.
 *
 * @param states - undefined: asked of the database
 */
async function writeJournal(
  db: pg.ClientBase,
  line: Line,
  head: ChainHead,
  written: readonly VouchedInspection[],
  states: readonly StateSubject[] | undefined,
  now: Date,
  withCommit: WithCommit,
): Promise<void> {
  const byActor = new Map<string, VouchedInspection[]>();
  for (const each of written) {
    const actor = actorOf(each.one.item.viewer);
    const known = byActor.get(actor);
    if (known) known.push(each);
    else byActor.set(actor, [each]);
  }
  let newest = head;
  let unsaid = states ?? (await subjectsWritten(db, line.plantId));
  for (const [actor, entries] of byActor) {
    const sent = sendEntry(db, newest, {
      plantId: line.plantId,
      chain: `line:${line.key}`,
      at: now,
      actor,
      action: "inspections.recorded",
      subjects: entries.map(({ row, hash }) => ({ table: "inspection", id: row.id, hash })),
      states: unsaid,
      payload: {
        frames: entries.map(({ one }) => [one.item.input.serial, one.item.findings.verdict, one.frame.state]),
      },
    });
    withCommit(sent.written);
    newest = sent.newest;
    unsaid = [];
  }
}

/** Hashes by which the journal will vouch for rows; begins when the statement that stores them is on its way. */
async function vouchFor(written: readonly WrittenInspection[]): Promise<VouchedInspection[]> {
  await setImmediate();
  return written.map((each) => ({ ...each, hash: rowHash("inspection", each.row.columns) }));
}

function judgedAgain(item: JudgedInspection, reference: ReferenceData): JudgedInspection {
  const overdueGauges = overdueAmong(item.gaugeKeys, reference, item.measuredAt);
  const again = {
    ...item,
    overdueGauges,
    doubts: gaugeDoubts(
      item.plan,
      item,
      { readings: item.input.readings, states: item.states, attributes: item.input.attributes ?? {} },
      reference,
    ),
  };
  return { ...again, findings: ownFindings(again) };
}

/** What became of some inspections, and what to remember once that is committed. */
type Recorded = { readonly outcomes: Map<JudgedInspection, RecordingOutcome>; readonly keep: () => void };

/** Locks a line's chain of the journal, and reads and locks what the recording starts from as it is when the lock is had. */
async function lockAndRead(db: pg.ClientBase, line: Line, serials: readonly string[], ids: readonly string[]) {
  const chain = `line:${line.key}`;
  const read = () => readForRecording(db, line.plantId, serials, ids);
  // The database works off what is sent together one after the other: the second sees what was committed until the first had its lock.
  const [head, found] = await allEnded([lockKnownChain(db, line.plantId, chain), read()]);
  if (head !== null) return { head, ...found };
  return { head: await lockChain(db, line.plantId, chain), ...(await read()) };
}

/** Records inspections of one line in one transaction, in the order of their corrected times. */
async function recordOnLine(
  db: pg.PoolClient,
  line: Line,
  items: readonly JudgedInspection[],
  now: Date,
  withCommit: WithCommit,
): Promise<Recorded> {
  const { plantId } = line;
  const serials = [...new Set(items.map((item) => item.input.serial))];
  const ids = items.map((item) => item.input.id);
  const { head, frames, known, gaugesVersion } = await lockAndRead(db, line, serials, ids);
  // A zero check or a calibration came after these were judged: what it says of the gauges counts for them, too.
  const isStale = gaugesVersion !== line.reference.gaugesVersion;
  const reference = isStale ? await withGaugesAsNow(db, plantId, line.reference) : line.reference;
  const histories = await readHistories(db, plantId, [...frames.values()], reference);
  const historyOf = ({ id, evidenceFrom, planId }: FrameNow): FrameHistory => {
    const known = histories.get(id) ?? new FrameHistory(evidenceFrom, askedOf(planId, reference), []);
    histories.set(id, known);
    return known;
  };

  const outcomes = new Map<JudgedInspection, RecordingOutcome>();
  const placed: PlacedInspection[] = [];
  const current = new Map<string, FrameNow>(frames);
  const sent = new Map<JudgedInspection, JudgedInspection>();
  const slices = inSlices({ holdsLock: true });
  for (const original of items) {
    if (slices.isOver()) await slices.next();
    const item = isStale ? judgedAgain(original, reference) : original;
    sent.set(item, original);
    const { id, serial } = item.input;
    try {
      const result = placeInspection(item, current.get(serial), known.get(id), historyOf, now, reference);
      if (result.kind === "repeated") {
        outcomes.set(original, result.outcome);
        continue;
      }
      placed.push(result);
      current.set(serial, result.frame);
      known.set(id, { contentHash: item.contentHash, serial, verdict: item.findings.verdict });
      historyOf(result.frame).add(result.listed);
    } catch (error) {
      const refused = asAppError(error);
      const told = refused.code === "not-found" ? await lookAlikes(db, plantId, serial, refused) : refused;
      outcomes.set(original, refusal(item.input, told));
    }
  }
  const keep = () => {
    if (!isStale) keepHistories(histories, frames.values(), reference);
  };
  if (placed.length === 0) return { outcomes, keep };

  const written = placed.map((one) => ({ one, row: inspectionRow(one, now, CORE_VERSION) }));
  const rows = written.map(({ row }) => row);
  const [vouched, states] = await allEnded([
    vouchFor(written),
    writeRecording(db, plantId, placed, rows, now),
    growStreams(db, plantId, placed, now, withCommit),
    followRecorded(db, plantId, placed),
  ]);
  await writeJournal(db, line, head, vouched, states, now, withCommit);
  for (const one of placed) outcomes.set(sent.get(one.item) ?? one.item, recordedOutcome(one));
  return { outcomes, keep };
}

/** Has the cases of the lines followed at whose stations these were measured. */
async function followRecorded(db: pg.ClientBase, plantId: string, placed: readonly PlacedInspection[]): Promise<void> {
  const lineIds = new Set(placed.map(({ item }) => item.station.lineId));
  await allEnded([...lineIds].map((lineId) => followLine(db, plantId, lineId)));
}

function recordedOutcome(one: PlacedInspection): InspectionRecorded {
  const { item, frame } = one;
  return {
    id: item.input.id,
    serial: item.input.serial,
    status: "recorded",
    ordinal: one.ordinal,
    verdict: item.findings.verdict,
    frameVerdict: one.verdict,
    frameState: frame.state,
    held: frame.state === "held",
    batch: frame.batchKey,
    batchHeld: frame.batchHeld || one.holds,
    reasons: one.reasons,
    doubts: [...new Set(item.doubts.map(({ reason }) => doubtText(reason)))],
    warnings: [...item.warnings, ...one.warnings],
  };
}

/**
 * By their corrected times; but what one device finished stays in the order in which it sends it, also where its clock was
 * set back in between.
 */
function inOrder(items: readonly JudgedInspection[]): JudgedInspection[] {
  const latest = new Map<string, number>();
  const placed = items.map((item, place) => {
    const { deviceId } = item.input;
    const known = deviceId === undefined ? undefined : latest.get(deviceId);
    const time = Math.max(item.measuredAt.getTime(), known ?? Number.NEGATIVE_INFINITY);
    if (deviceId !== undefined) latest.set(deviceId, time);
    return { item, time, place };
  });
  return placed.sort((a, b) => a.time - b.time || a.place - b.place).map(({ item }) => item);
}

/** Two lines can be sent the same key at once: the second finds the first one's row when it tries again. */
async function recordWithRetry(
  line: Line,
  items: readonly JudgedInspection[],
  now: Date,
): Promise<Map<JudgedInspection, RecordingOutcome>> {
  const sorted = inOrder(items);
  const run = async () => {
    const recorded = await inSqlTransaction((db, withCommit) => recordOnLine(db, line, sorted, now, withCommit));
    recorded.keep();
    return recorded.outcomes;
  };
  try {
    return await run();
  } catch (error) {
    if (readDatabaseRefusal(error)?.kind !== "unique") throw error;
    return run();
  }
}

/** Where one of several has a value that cannot be stored, each is recorded by itself: it keeps nothing else out. */
async function recordEachIfNotAll(
  items: readonly JudgedInspection[],
  record: (items: readonly JudgedInspection[]) => Promise<Map<JudgedInspection, RecordingOutcome>>,
): Promise<Map<JudgedInspection, RecordingOutcome>> {
  try {
    return await record(items);
  } catch (error) {
    const refused = asAppError(error);
    const [only] = items;
    if (only && items.length === 1) return new Map([[only, refusal(only.input, refused)]]);
  }
  const outcomes = new Map<JudgedInspection, RecordingOutcome>();
  for (const item of items)
    for (const [each, outcome] of await recordEachIfNotAll([item], record)) outcomes.set(each, outcome);
  return outcomes;
}

/**
 * Records finished inspections: checks, computes features and verdict, stores one row each, moves the frame, holds frame and
 * batch by policy, lets the streams grow that they touch, writes journal and outbox. One transaction a line, several where there are
 * many; sending the same inspection again changes nothing. The good ones are recorded whatever happens to the others.
 *
 * @param inputs - parsed by recordInspectionSchema, any order, any lines of the plant
 * @returns one outcome an input, in the order of the inputs
 * @throws AppError forbidden
 */
export function recordInspections(
  viewer: Viewer,
  inputs: readonly RecordInspection[],
  options: { readonly now?: Date } = {},
): Promise<readonly RecordingOutcome[]> {
  const record = () => recordForViewer(viewer, inputs, options);
  return inputs.length <= FEW ? hurry(record) : record();
}

async function recordForViewer(
  viewer: Viewer,
  inputs: readonly RecordInspection[],
  options: { readonly now?: Date },
): Promise<readonly RecordingOutcome[]> {
  assertMay(viewer, "line.inspect");
  const now = options.now ?? new Date();
  const reference = await getReferenceDataFor(viewer.plantId, inputs);
  const devices = new Set(inputs.flatMap(({ deviceId }) => deviceId ?? []));
  if (devices.size <= MOST_DEVICES) for (const deviceId of devices) await tieToDevice(viewer, deviceId);
  const outcomes: RecordingOutcome[] = [];
  const byLine = new Map<string, JudgedInspection[]>();
  const slices = inSlices();
  if (inputs.length > FEW) await slices.next();
  for (const [at, input] of inputs.entries()) {
    if (slices.isOver()) await slices.next();
    try {
      assertTokenDevice(viewer, input.deviceId);
      const checked = checkInspection(input, reference, now);
      const items = byLine.get(checked.station.lineKey) ?? [];
      items.push({ ...checked, findings: ownFindings(checked), at, viewer });
      byLine.set(checked.station.lineKey, items);
    } catch (error) {
      outcomes[at] = refusal(input, asAppError(error));
    }
  }
  for (const [key, items] of byLine) {
    const line = { plantId: viewer.plantId, key, reference };
    const sorted = inOrder(items);
    while (sorted.length > 0) {
      const part = sorted.splice(0, gathered.isBesideFew(line) ? MOST_BESIDE_FEW : MOST_IN_PART);
      const recorded = await recordEachIfNotAll(part, (some) =>
        options.now === undefined
          ? gathered.gather(line, some, inputs.length <= FEW)
          : recordWithRetry(line, some, now),
      );
      for (const [item, outcome] of recorded) outcomes[item.at] = outcome;
    }
  }
  return outcomes;
}

/** What the line or the database itself is in no state for: the next in the queue would fail by it, too, each after its own wait. */
const NOBODYS_OWN: ReadonlySet<string> = new Set(["busy", "unreachable", "full"]);

/** Inspections of one caller for which somebody may stand at a station: what was sent in larger numbers stands back for them. */
const FEW = 5;

/** Inspections of one caller that hold the line's lock together while nobody records single frames there. */
const MOST_IN_PART = 100;

/**
 * Writers of one line have to wait for each other. What arrives while one transaction of a line runs is therefore recorded
 * together in the next one: many tablets and programs then cost little more than one.
 */
const gathered = gatherWork(
  (line: Line) => `${line.plantId} ${line.key}`,
  (line, items: readonly JudgedInspection[]) => recordWithRetry(line, items, new Date()),
  (error) => NOBODYS_OWN.has(readDatabaseRefusal(error)?.kind ?? ""),
);

/** Records one inspection; a refusal is thrown. */
export async function recordInspection(viewer: Viewer, input: RecordInspection): Promise<InspectionRecorded> {
  const [outcome] = await recordInspections(viewer, [input]);
  if (outcome === undefined) throw new AppError("unexpected", words.inspectionWasNeitherRecordedNor);
  if (outcome.status === "refused") throw outcome.error;
  return outcome;
}
