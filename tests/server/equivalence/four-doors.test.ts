import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { isDeepStrictEqual } from "node:util";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST as askGeometry } from "@/app/api/v1/geometry/route";
import { POST as sendInspections } from "@/app/api/v1/inspections/route";
import { checkFile } from "@/lib/cli/check/check-file";
import type { JudgedFrame } from "@/lib/cli/check/judge-file-frame";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, plugsAndBarPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { type BarPassage, formatReadingName, type PlugFeel, type ReadingName } from "@/lib/core/metrology/reading-name";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { deviceEvidence } from "@/lib/offline/verdict/device-evidence";
import { gaugeDoubtsOf } from "@/lib/offline/device/frame-gauges";
import { toldJudgement } from "@/lib/format/judging-words";
import { findDemonstrationDrawing, PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import type { ToldJudgement } from "@/lib/quality/judge-frame";
import { judgeInspection } from "@/lib/quality/judge-inspection";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { StationKit } from "@/lib/schemas/station-package";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { getStationPackage } from "@/lib/server/line/queries";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createBatch } from "@/lib/server/batches/commands";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, testGauges, type TestPlant } from "../../helpers/plant";
import { untilAnswered } from "../../helpers/until-answered";
import { setTestEnvironment } from "../auth/plant-fixture";

// One shell, four doors: a file, HTTP and the frame's record, the device's preview, and /geometry say the same of the same readings.
// Nothing here is an expected value: each door is held against the record.

const FRAMES_A_PLAN = 40;
const RAD = Math.PI / 180;
const PLANS = {
  full: fullPlan(PRESS_FIT_41),
  routine: routinePlan(PRESS_FIT_41),
  felt: plugsAndBarPlan(PRESS_FIT_41),
  // With a bar of a set that nobody knows.
  mixed: [...fullPlan(PRESS_FIT_41), ...plugsAndBarPlan(PRESS_FIT_41), { kind: "bar", set: "C" }],
} as const;
type PlanKey = keyof typeof PLANS;

/** What one inspection brought, before any door has seen it. */
type Taken = {
  readonly numbers: readonly (number | null)[];
  readonly plugs: Readonly<Record<string, PlugFeel>>;
  readonly bars: Readonly<Record<string, BarPassage>>;
  readonly temperatureC: number | undefined;
  readonly gauges: readonly (string | null)[];
  readonly states: NonNullable<RecordInspection["states"]>;
};

/** A frame with its inspections; `plain` where a file and /geometry, which know no register and no scale, can say the same. */
type Case = { readonly serial: string; readonly inspections: readonly Taken[]; readonly plain: boolean };

/** A shell by its own few numbers: sizes, form, where the NDS seat lies. */
function shell(random: SeededGenerator) {
  const bad = random.uniform() < 0.4 ? 3 : 1;
  const seat = () => ({
    sizeMm: 40.975 + 0.009 * bad * random.normal(),
    ovalUm: 8 * bad * random.uniform(),
    ovalDeg: 180 * random.uniform(),
    taperUmPerMm: 0.6 * bad * random.normal(),
  });
  return {
    ds: seat(),
    nds: seat(),
    offset: [14 * bad * random.normal(), 14 * bad * random.normal()] as const,
    slope: [0.4 * bad * random.normal(), 0.4 * bad * random.normal()] as const,
    lobeUm: random.uniform() < 0.3 ? 3 * bad * random.uniform() : 0,
    widthMm: 86.5 + 0.06 * bad * random.normal(),
  };
}

type Shell = ReturnType<typeof shell>;

function trueReading(name: ReadingName, made: Shell): number | null {
  switch (name.kind) {
    case "bore": {
      const { sizeMm, ovalUm, ovalDeg, taperUmPerMm } = made[name.seat];
      const um = (ovalUm / 2) * Math.cos(2 * (name.directionDeg - ovalDeg) * RAD) + taperUmPerMm * (name.depthMm - 5);
      return sizeMm + um / 1000;
    }
    case "sweep": {
      const along = 5 - name.depthMm;
      const [up, front] = [0, 1].map((axis) => (made.offset[axis] ?? 0) + (made.slope[axis] ?? 0) * along);
      const angle = name.angleDeg * RAD;
      return (up ?? 0) * Math.cos(angle) + (front ?? 0) * Math.sin(angle) + made.lobeUm * Math.cos(3 * angle);
    }
    case "face":
      return 6 * Math.cos((name.angleDeg - 40) * RAD);
    case "width":
      return made.widthMm;
    default:
      return null;
  }
}

const NOISE_UM = { bore: 1.5, sweep: 1, face: 2, width: 8 } as const;

function readingOf(name: ReadingName, made: Shell, random: SeededGenerator): number | null {
  const value = trueReading(name, made);
  if (value === null || name.kind === "plug" || name.kind === "bar") return null;
  const noisy = NOISE_UM[name.kind] * random.normal();
  return name.kind === "bore" || name.kind === "width"
    ? Number((value + noisy / 1000).toFixed(3))
    : Number((value + noisy).toFixed(1));
}

/** Feels that follow the shell, and now and then contradict it. */
function feelOf(name: ReadingName, made: Shell, random: SeededGenerator): PlugFeel | BarPassage | null {
  if (random.uniform() < 0.01) return null;
  const isOdd = random.uniform() < 0.05;
  if (name.kind === "plug") {
    const roomUm = (made[name.seat].sizeMm - name.sizeMm) * 1000;
    return (roomUm > 30 ? "slides" : roomUm > -1 ? "hand" : "no") satisfies PlugFeel as PlugFeel;
  }
  const tilt = Math.hypot(made.slope[0], made.slope[1]);
  if (isOdd || tilt > 1.4) return { result: "no" };
  return tilt > 0.9 ? { result: "stiff", clockDeg: Math.floor(12 * random.uniform()) * 30 } : { result: "free" };
}

/** What goes wrong in a measuring room, one thing at a time. */
function spoil(numbers: (number | null)[], names: readonly ReadingName[], random: SeededGenerator): void {
  const of = (kind: ReadingName["kind"]) => names.flatMap((name, place) => (name.kind === kind ? [place] : []));
  const pick = (places: readonly number[]) => places[Math.floor(random.uniform() * places.length)] ?? -1;
  const change = (place: number, by: (value: number) => number | null) => {
    const value = numbers[place] ?? null;
    if (value !== null) numbers[place] = by(value);
  };
  const kind = Math.floor(random.uniform() * 8);
  const sweeps = of("sweep");
  if (kind === 0)
    sweeps.slice(0, 3 + Math.floor(4 * random.uniform())).forEach((place) => change(place, (one) => one + 40));
  if (kind === 1) change(pick(sweeps), (value) => value + 35);
  if (kind === 2) change(pick(of("bore")), (value) => Number((value + 0.03).toFixed(3)));
  if (kind === 3) change(pick(names.map((_, place) => place)), () => null);
  if (kind === 4) sweeps.forEach((place) => change(place, (value) => Math.min(value, 8)));
}

function takenBy(names: readonly ReadingName[], made: Shell, random: SeededGenerator, plain: boolean): Taken {
  const numbers = names.map((name) => readingOf(name, made, random));
  if (random.uniform() < 0.5) spoil(numbers, names, random);
  const felt = names.map((name) => (name.kind === "plug" || name.kind === "bar" ? feelOf(name, made, random) : null));
  function words<Word>(kind: "plug" | "bar"): Record<string, Word> {
    return Object.fromEntries(
      names.flatMap((name, place) =>
        name.kind === kind && felt[place] !== null ? [[formatReadingName(name), felt[place] as Word] as const] : [],
      ),
    );
  }
  const gauges: (string | null)[] = testGauges(names);
  const states = numbers.map((value, place): Taken["states"][number] =>
    value === null && names[place]?.kind !== "plug" && names[place]?.kind !== "bar" ? "cannot" : "measured",
  );
  if (!plain) {
    const other = ["E-B2", "E-B3", "E-B4", "TI-1", null][Math.floor(random.uniform() * 5)] ?? null;
    names.forEach((name, place) => {
      if (name.kind === "bore" && name.seat === "nds") gauges[place] = other;
    });
    const bore = names.findIndex(({ kind }) => kind === "bore");
    if (bore >= 0 && random.uniform() < 0.3) {
      numbers[bore] = null;
      states[bore] = random.uniform() < 0.5 ? "off-scale-large" : "off-scale-small";
    }
  }
  const warm = random.uniform();
  return {
    numbers,
    plugs: words<PlugFeel>("plug"),
    bars: words<BarPassage>("bar"),
    temperatureC: warm < 0.5 ? undefined : warm < 0.75 ? 20 : Number((10 + 25 * random.uniform()).toFixed(1)),
    gauges,
    states,
  };
}

function casesOf(key: PlanKey): Case[] {
  const random = createSeededGenerator(20_261_130 + Object.keys(PLANS).indexOf(key));
  return Array.from({ length: FRAMES_A_PLAN }, (_, place) => {
    const made = shell(random);
    const plain = place === 0 || random.uniform() < 0.75;
    const count = random.uniform() < 0.25 ? 2 + Math.floor(2 * random.uniform()) : 1;
    // The first frame has every reading, so that every column of the file is due.
    const taken = () => takenBy(PLANS[key], made, random, plain);
    const first = { ...taken(), numbers: PLANS[key].map((name) => readingOf(name, made, random)) };
    const inspections =
      place === 0
        ? [{ ...first, states: first.numbers.map(() => "measured" as const) }]
        : Array.from({ length: count }, taken);
    return { serial: `${key}-${place + 1}`, inspections, plain };
  });
}

const START = Date.parse("2026-11-02T06:00:00Z");
/** Each inspection of a plan has a minute of its own, so that its order is the same everywhere. */
const timeOf = (place: number, ordinal: number): string =>
  new Date(START + (place * 10 + ordinal) * 60_000).toISOString();

let database: TestDatabase;
let plant: TestPlant;
let kit: StationKit;
let token = "";
const folder = mkdtempSync(join(tmpdir(), "four-doors-"));
const revisions = new Map<PlanKey, string>();
const cases = new Map<PlanKey, Case[]>();
const outcomes = new Map<string, { readonly frameVerdict: string; readonly reasons: readonly unknown[] }>();

const headers = () => ({ "content-type": "application/json", authorization: `Bearer ${token}` });

function inspectionOf(key: PlanKey, place: number, ordinal: number, taken: Taken): RecordInspection {
  return {
    id: uuidV7(),
    serial: cases.get(key)?.[place]?.serial ?? "",
    stationId: plant.stationId,
    planRevisionId: revisions.get(key) ?? "",
    readings: [...taken.numbers],
    states: [...taken.states],
    gauges: [...taken.gauges],
    attributes: {
      plugs: { ...taken.plugs },
      bars: { ...taken.bars },
      ...(taken.temperatureC === undefined ? {} : { temperatureC: taken.temperatureC }),
    },
    deviceTime: timeOf(place, ordinal),
    ...(ordinal === 1 ? {} : { reason: "measured again" }),
  };
}

async function addGauges(): Promise<void> {
  const bore = { kind: "bore", principle: "two-point", resolutionUm: 1 } as const;
  const calibrated = { calibratedAt: "2020-01-01T00:00:00Z", calibratedUntil: "2029-12-31T00:00:00Z" };
  await createGauge(plant.system, {
    ...bore,
    key: "E-B2",
    name: "second",
    rangeLower: 35,
    rangeUpper: 50,
    ...calibrated,
  });
  await createGauge(plant.system, {
    ...bore,
    key: "E-B3",
    name: "never checked",
    rangeLower: 35,
    rangeUpper: 50,
  });
  await createGauge(plant.system, {
    ...bore,
    key: "E-B4",
    name: "short",
    rangeLower: 40.9,
    rangeUpper: 40.99,
    ...calibrated,
  });
}

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 1 });
  await addGauges();
  const administrator = await plant.as("administrator");
  token = (await createToken(administrator, { name: "all doors", scopes: ["readings:write", "results:read"] })).token;
  for (const key of Object.keys(PLANS) as PlanKey[]) {
    const { id } = await draftPlan(plant.system, {
      key: `E-${key}`,
      title: key,
      revision: "1",
      drawingRevisionId: plant.drawingRevisionId,
      readingNames: PLANS[key].map(formatReadingName),
      frames: { kind: "all" },
    });
    await releasePlan(plant.system, id);
    revisions.set(key, id);
    cases.set(key, casesOf(key));
    await createBatch(plant.system, {
      key: `B-${key}`,
      supplier: "SUP",
      model: "M1",
      line: "L1",
      plan: `E-${key}`,
      serials: (cases.get(key) ?? []).map(({ serial }) => ({ serial })),
    });
  }
  kit = { ...(await getStationPackage(plant.system, plant.stationId)), frames: [], build: null };
  for (const key of Object.keys(PLANS) as PlanKey[]) {
    const inspections = (cases.get(key) ?? []).flatMap((one, place) =>
      one.inspections.map((taken, at) => inspectionOf(key, place, at + 1, taken)),
    );
    const request = new Request("http://localhost:3000/api/v1/inspections", {
      method: "POST",
      headers: headers(),
      body: JSON.stringify({ inspections }),
    });
    const response = await sendInspections(request, { params: Promise.resolve({}) });
    const { results } = (await response.json()) as {
      results: { serial: string; status: string; frameVerdict: string; reasons: unknown[]; error?: unknown }[];
    };
    expect(results.filter(({ status }) => status !== "recorded")).toEqual([]);
    for (const one of results) outcomes.set(one.serial, one);
  }
});
afterAll(async () => {
  rmSync(folder, { recursive: true });
  await database.drop();
});

/** The verdict table by characteristic, with the inspections' names taken out of the reasons: each door calls them by its own. */
function table({ verdict, characteristics }: Pick<ToldJudgement, "verdict" | "characteristics">) {
  // A file does not say why a reading is not there.
  const anonymous = (reason: string): string =>
    reason
      .replace("could not be taken", "is missing")
      .replaceAll(
        /the inspection of row \d+|inspection \d+ of \S+ \d{2}:\d{2}\sUTC|this inspection|these readings/g,
        "INSPECTION",
      );
  const rows = characteristics.map((one) => [
    `${one.name} ${one.seat ?? ""}`,
    { ...one, ...(one.reason === undefined ? {} : { reason: anonymous(one.reason) }) },
  ]);
  return { verdict, ...(JSON.parse(JSON.stringify(Object.fromEntries(rows))) as Record<string, unknown>) };
}

type Judged = Pick<ToldJudgement, "verdict" | "characteristics">;

/** What two doors say of a frame, where it is not the same. */
function differences(serial: string, other: Judged, record: Judged): unknown[] {
  const [a, b] = [table(other), table(record)] as Record<string, unknown>[];
  return [...new Set([...Object.keys(a ?? {}), ...Object.keys(b ?? {})])]
    .filter((key) => !isDeepStrictEqual(a?.[key], b?.[key]))
    .map((key) => ({ serial, key, other: a?.[key], record: b?.[key] }));
}

async function recorded(serial: string): Promise<ToldJudgement> {
  const { judgement } = await getFrameRecord(plant.system, serial);
  if (judgement === null) throw new Error(`${serial} has no judgement`);
  return judgement;
}

const csvWord = (word: PlugFeel | BarPassage | undefined): string => {
  if (word === undefined) return "";
  if (typeof word === "string") return word;
  if (word.result !== "stiff") return word.result;
  const hour = word.clockDeg / 30;
  return `stiff@${hour === 0 ? 12 : hour}`;
};

async function judgedByFile(key: PlanKey, list: readonly { readonly one: Case; readonly place: number }[]) {
  const labels = PLANS[key].map(formatReadingName);
  const rows = list.flatMap(({ one, place }) =>
    one.inspections.map(({ numbers, plugs, bars, temperatureC }, at) =>
      [
        one.serial,
        `B-${key}`,
        "press-fit-41",
        timeOf(place, at + 1),
        `no ${at + 1}`,
        temperatureC ?? "",
        "G-1",
        ...labels.map((label, column) => numbers[column] ?? csvWord(plugs[label] ?? bars[label])),
      ].join(","),
    ),
  );
  const path = join(folder, `${key}.csv`);
  const header = ["serial", "batch", "drawing", "measured_at", "inspection", "temperature_c", "gauge", ...labels];
  writeFileSync(path, [header.join(","), ...rows, ""].join("\r\n"));
  const frames = new Map<string, JudgedFrame>();
  const outcome = await checkFile(
    {
      path,
      name: `${key}.csv`,
      drawing: findDemonstrationDrawing("press-fit-41") ?? null,
      zone: null,
      baselineFrames: null,
      nowMs: Date.parse("2026-11-30T00:00:00Z"),
      goOnWithGoodRows: false,
    },
    { onFrame: (frame) => frames.set(frame.inspection.serial, frame) },
  );
  expect(outcome.problems).toEqual([]);
  return frames;
}

function previewed(key: PlanKey, place: number, taken: Taken): ToldJudgement {
  const inspection = inspectionOf(key, place, 1, taken);
  const compiled = compileMeasurement(PLANS[key], PRESS_FIT_41);
  const atMs = Date.parse(inspection.deviceTime);
  const felt = new Set([...Object.keys(taken.plugs), ...Object.keys(taken.bars)]);
  const readings = PLANS[key].map((name, index) => ({
    gauge: taken.gauges[index] ?? null,
    atMs,
    value: taken.numbers[index] ?? null,
    // As the device keeps a word, and a bore that is off the scale.
    taken:
      (taken.numbers[index] ?? null) !== null ||
      felt.has(formatReadingName(name)) ||
      (taken.states[index] ?? "").startsWith("off-scale"),
  }));
  const { doubts } = gaugeDoubtsOf(compiled, PRESS_FIT_41, readings, kit, []);
  return toldJudgement(judgeInspection(deviceEvidence(PRESS_FIT_41, compiled, inspection, doubts)).judgement);
}

async function answered(key: PlanKey, { numbers, plugs, bars, temperatureC }: Taken) {
  const labels = PLANS[key].map(formatReadingName);
  const readings = Object.fromEntries(
    labels.flatMap((label, place) => {
      const { kind } = PLANS[key][place] ?? {};
      return kind === "plug" || kind === "bar" ? [] : [[label, numbers[place] ?? null] as const];
    }),
  );
  const body = JSON.stringify({ drawing: "press-fit-41", readings, plugs, bars, temperatureC });
  const ask = () =>
    askGeometry(new Request("http://localhost:3000/api/v1/geometry", { method: "POST", headers: headers(), body }), {
      params: Promise.resolve({}),
    });
  const response = await untilAnswered(ask);
  expect(response.status).toBe(200);
  return (await response.json()) as Pick<ToldJudgement, "verdict" | "characteristics">;
}

const PLAN_KEYS = Object.keys(PLANS) as PlanKey[];

describe.each(PLAN_KEYS)("by the %s plan", (key) => {
  const all = () => (cases.get(key) ?? []).map((one, place) => ({ one, place }));

  it("the answer to the readings is what the record says", async () => {
    const seen = new Set<string>();
    const found = [];
    for (const { one } of all()) {
      const record = await recorded(one.serial);
      const outcome = outcomes.get(one.serial);
      seen.add(record.verdict);
      const own = { verdict: outcome?.frameVerdict, characteristics: outcome?.reasons } as unknown as Judged;
      const bad = record.characteristics.filter(({ verdict }) => verdict !== "conforms");
      found.push(...differences(one.serial, own, { ...record, characteristics: bad }));
    }
    expect(found).toEqual([]);
    // The shells are drawn so that every answer occurs: else the test would hold nothing against nothing.
    expect([...seen].sort()).toEqual(expect.arrayContaining(["does not conform", "not measured", "not proven"]));
  });

  it("a file says the same", async () => {
    const list = all().filter(({ one }) => one.plain);
    const frames = await judgedByFile(key, list);
    const found = [];
    for (const { one } of list) {
      const frame = frames.get(one.serial);
      found.push(
        ...(frame === undefined ? [one.serial] : differences(one.serial, frame.judgement, await recorded(one.serial))),
      );
    }
    expect(found).toEqual([]);
  });

  it("the device says the same of a single inspection, by whatever gauges", async () => {
    const found = [];
    for (const { one, place } of all()) {
      const [taken, ...more] = one.inspections;
      if (taken === undefined || more.length > 0) continue;
      found.push(...differences(one.serial, previewed(key, place, taken), await recorded(one.serial)));
    }
    expect(found).toEqual([]);
  });

  it("/geometry says the same of a single inspection with all its trials", async () => {
    const trials = PLANS[key].filter(({ kind }) => kind === "plug" || kind === "bar").length;
    let compared = 0;
    const found = [];
    for (const { one } of all()) {
      const [taken, ...more] = one.inspections;
      if (taken === undefined || more.length > 0 || !one.plain) continue;
      if (Object.keys(taken.plugs).length + Object.keys(taken.bars).length < trials) continue;
      compared += 1;
      found.push(...differences(one.serial, await answered(key, taken), await recorded(one.serial)));
    }
    expect(found).toEqual([]);
    expect(compared).toBeGreaterThan(FRAMES_A_PLAN / 4);
  });
});
