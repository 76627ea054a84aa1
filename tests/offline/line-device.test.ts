import "fake-indexeddb/auto";
import { IDBFactory } from "fake-indexeddb";
import { beforeEach, describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import {
  clearSent,
  type DeviceDatabase,
  isToBeRead,
  listQueue,
  openDeviceDatabase,
} from "@/lib/offline/device/device-database";
import { LineDevice } from "@/lib/offline/line-device";
import { countBatch, FIRST_SETTINGS } from "@/lib/offline/device/line-state";
import { gaugesAtHand } from "@/lib/offline/device/station-gauges";
import { recordInspectionSchema } from "@/lib/schemas/inspection";
import type { StationPlan } from "@/lib/schemas/station-package";
import { runServerClock, STATION, standInServer, stationKit, type StandIn } from "./station-server";

const GOOD = [...Array.from({ length: 12 }, () => "40.975"), ...Array.from({ length: 16 }, () => "0")];

let clock = 1_760_000_000_000;
const now = (): number => (clock += 7);
let database: DeviceDatabase;

beforeEach(async () => {
  runServerClock(() => clock);
  globalThis.indexedDB = new IDBFactory();
  database = await openDeviceDatabase();
});

async function openDevice(server: StandIn): Promise<LineDevice> {
  const device = new LineDevice({ database, fetcher: server.fetcher, now });
  await device.open();
  return device;
}

async function atStation(server: StandIn): Promise<LineDevice> {
  const device = await openDevice(server);
  await device.loadStations();
  await device.chooseStation(STATION);
  return device;
}

async function measure(device: LineDevice, serial: string, values: readonly string[] = GOOD): Promise<void> {
  await device.enter(serial);
  for (const value of values) await device.enter(value);
}

/** The device's database with a disk that can refuse a write. */
function failingDisk(whole: DeviceDatabase): { database: DeviceDatabase; failNext: () => void } {
  let fails = false;
  const get = (target: DeviceDatabase, name: string | symbol): unknown => {
    if (name === "transaction" && fails) {
      fails = false;
      throw new Error("the disk does not answer");
    }
    const value: unknown = Reflect.get(target, name);
    return typeof value === "function" ? (value.bind(target) as unknown) : value;
  };
  return { database: new Proxy(whole, { get }), failNext: () => (fails = true) };
}

const settled = async (device: LineDevice): Promise<void> => {
  for (let i = 0; i < 50; i += 1) {
    await new Promise((resolve) => setTimeout(resolve, 2));
    if (device.getState().queue.every((entry) => entry.state !== "waiting")) return;
  }
};

/** A station whose frames have serials of digits alone. */
function numericKit(serials: readonly string[]) {
  const kit = stationKit(serials.length);
  const frames = kit.frames.map((one) => ({
    ...one,
    frames: one.frames.map((frame, at) => ({ ...frame, serial: serials[at] ?? "" })),
  }));
  return { ...kit, frames };
}

describe("a scan between two readings", () => {
  it.each([12, 13, 14, 15])(
    "of a serial of digits alone is no reading of a sweep, its reading %i neither",
    async (taken) => {
      const device = await atStation(standInServer(numericKit(["100231", "100232"])));
      await measure(device, "100231", GOOD.slice(0, taken));
      await device.enter("100232");
      expect(device.getState()).toMatchObject({
        session: { serial: "100231", asked: taken, question: null },
        pending: { serial: "100232", why: "unfinished" },
      });
    },
  );
});

describe("what is heard of a word", () => {
  it.each([
    ["ds.plug.40.95", "slides", "good"],
    ["ds.plug.40.95", "no", "out"],
    ["ds.plug.41.02", "slides", "out"],
    ["ds.plug.41.02", "no", "good"],
    ["bar.A", { result: "free" }, "good"],
    ["bar.A", { result: "stiff", clockDeg: 150 }, "question"],
    ["bar.A", { result: "no" }, "out"],
  ] as const)("%s, %j: %s, by the limits 40.95 and 41.00 of the seat", async (name, word, tone) => {
    const kit = stationKit(1);
    const plans = kit.plans.map((plan) => ({ ...plan, readingNames: [name, "ds.bore.2@12-6"] }));
    const device = await atStation(standInServer({ ...kit, plans }));
    await device.enter("F-0001");
    await device.key({ type: "word", word, index: 0, offsetMs: 0 });
    expect(device.getState().feedback?.tone).toBe(tone);
  });
});

describe("a frame of another line", () => {
  const plan = {
    ...stationKit(1).plans[0],
    planRevisionId: "01920000-0000-7000-8000-0000000000dd",
    planKey: "P9",
    readingNames: ["ds.bore.2@12-6"],
  } as StationPlan;

  it("is asked about, and put aside by the default answer", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    server.set({ otherLine: { line: "L9", plan } });
    await device.enter("G-0001");
    expect(device.getState()).toMatchObject({
      session: null,
      pending: { serial: "G-0001", batch: "B-9", why: "other line", line: "L9" },
    });
    await device.disagree();
    expect(device.getState()).toMatchObject({ session: null, pending: null });
    expect(device.getState().notice?.text).toContain("put aside: it is measured at line L9");
    expect(server.givenUp).toEqual(["G-0001"]);
  });

  it("is measured by the plan of its batch after a yes, which goes with it; the batch in hand stays", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.giveUp(device.getState().session?.id ?? "", "scanned by mistake");
    server.set({ otherLine: { line: "L9", plan } });
    await device.enter("G-0001");
    await device.agree();
    expect(device.getState().session).toMatchObject({ serial: "G-0001", planRevisionId: plan.planRevisionId });
    await device.putAside();
    // Gone on with, it is not asked about again, also after the device was started anew.
    const again = await openDevice(server);
    await again.enter("G-0001");
    await again.enter("40.975");
    await settled(again);
    expect(server.arrived.map(({ serial, batch, attributes }) => ({ serial, batch, attributes }))).toEqual([
      { serial: "G-0001", batch: "B-9", attributes: { otherLine: "L9" } },
    ]);
    expect(again.getState().settings.batch).toBe("B-1");
  });

  it("is put aside in words where its plan is not to be had", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    server.set({ otherLine: { line: "L9", plan: null } });
    await device.enter("G-0001");
    expect(device.getState()).toMatchObject({ session: null, pending: null });
    expect(device.getState().notice?.text).toMatch(/belongs to line L9.*no measuring plan.*Put it aside/);
    server.set({ network: "away" });
    await device.enter("G-0002");
    expect(device.getState()).toMatchObject({ session: null, pending: null });
    expect(device.getState().notice?.text).toMatch(
      /If it is of another line, put it aside: its plan is not on this device/,
    );
  });
});

describe("a frame at the station", () => {
  it("goes from the scan to the server with a verdict, and the next scan starts the next", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await measure(device, "F-0001");
    expect(device.getState().finished?.inspection.serial).toBe("F-0001");
    await settled(device);
    expect(server.arrived.map(({ serial }) => serial)).toEqual(["F-0001"]);
    expect(recordInspectionSchema.safeParse(server.arrived[0]).success).toBe(true);
    expect(device.getState().sent[0]).toMatchObject({ serial: "F-0001", deviceVerdict: "conforms" });
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ finished: null, session: { serial: "F-0002" } });
  });

  it("goes on after a reload at the reading that was asked for", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await device.enter("F-0001");
    for (const value of GOOD.slice(0, 5)) await device.enter(value);
    const again = await openDevice(server);
    expect(again.getState().session).toMatchObject({ serial: "F-0001", asked: 5 });
    for (const value of GOOD.slice(5)) await again.enter(value);
    expect(again.getState().finished?.inspection.readings).toEqual(GOOD.map(Number));
  });

  it("shows the verdict again after a reload, until the next frame is begun or the device was put away", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await measure(device, "F-0001");
    expect((await openDevice(server)).getState().finished).toEqual(device.getState().finished);
    clock += 15 * 60_000;
    expect((await openDevice(server)).getState().finished).toBeNull();
    await measure(device, "F-0002");
    await device.enter("F-0003");
    await device.putAside();
    expect((await openDevice(server)).getState().finished).toBeNull();
    await measure(device, "F-0003", GOOD);
    await device.closeFinished();
    expect((await openDevice(server)).getState().finished).toBeNull();
  });

  it("marks a frame that the plan does not ask for, and counts what is left by the plan", async () => {
    const kit = stationKit(4);
    const frames = kit.frames.map((each) => ({
      ...each,
      frames: each.frames.map((frame) => ({ ...frame, planned: frame.position === 2 })),
    }));
    const server = standInServer({ ...kit, frames });
    const device = await atStation(server);
    await measure(device, "F-0001");
    await settled(device);
    const [batch] = kit.batches;
    if (batch === undefined) throw new Error("the kit has no batch");
    expect(countBatch(device.getState().kit, batch)).toEqual({ planned: 1, measured: 0 });
    await measure(device, "F-0002");
    await settled(device);
    expect(countBatch(device.getState().kit, batch)).toEqual({ planned: 1, measured: 1 });
    expect(server.arrived.map(({ attributes }) => attributes?.outsidePlan)).toEqual([true, undefined]);
  });

  it("shows a reading at once and says it is kept when it is on the disk", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    await device.enter("F-0001");
    const seen: string[] = [];
    const count = (session: { readings: readonly unknown[] } | null) =>
      session?.readings.filter((reading) => reading !== null).length ?? 0;
    device.subscribe(() => {
      const { session, keptSession } = device.getState();
      seen.push(`${count(session)} shown, ${count(keptSession ?? session)} kept`);
    });
    await device.enter("40.975");
    expect(seen).toEqual(["1 shown, 0 kept", "1 shown, 1 kept"]);
  });

  it("takes a reading back from the screen when the disk refuses it", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    database.close();
    await device.enter("40.976");
    const { session, keptSession, notice } = device.getState();
    expect(session?.readings.filter((reading) => reading !== null)).toHaveLength(1);
    expect(keptSession).toBeNull();
    expect(notice?.text).toMatch(/could not keep that/);
  });

  it("does not take what was keyed behind a reading that the disk refused for that reading", async () => {
    const server = standInServer(stationKit(1));
    const disk = failingDisk(database);
    const device = new LineDevice({ database: disk.database, fetcher: server.fetcher, now });
    await device.open();
    await device.loadStations();
    await device.chooseStation(STATION);
    await device.enter("F-0001");
    disk.failNext();
    await Promise.all([device.enter("40.974"), device.enter("40.976")]);
    expect(device.getState().notice?.text).toMatch(/key it again/);
    expect(device.getState().session).toMatchObject({ asked: 0, readings: GOOD.map(() => null) });
    for (const value of ["40.974", "40.976"]) await device.enter(value);
    expect(device.getState().session?.readings.slice(0, 2)).toMatchObject([{ value: 40.974 }, { value: 40.976 }]);
  });

  it("knows after a restart without the network that the frame was measured, and how often the gauge", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    const again = await openDevice(server);
    expect(again.getState().kit?.frames[0]?.frames[0]).toMatchObject({ inspections: 1, verdict: "conforms" });
    expect(again.getState().gaugeUse).toEqual(device.getState().gaugeUse);
    await again.enter("F-0001");
    expect(again.getState().pending).toMatchObject({ why: "measured before" });
  });

  it("takes nothing from an answer that is not to its message, and asks no second time by itself", async () => {
    const server = standInServer(stationKit(1));
    let answers = 0;
    const fetcher: typeof server.fetcher = async (url, init) => {
      if (!url.endsWith("/api/v1/inspections")) return server.fetcher(url, init);
      answers += 1;
      return Response.json({ results: [] });
    };
    const device = new LineDevice({ database, fetcher, now });
    await device.open();
    await device.loadStations();
    await device.chooseStation(STATION);
    await measure(device, "F-0001");
    await settled(device);
    expect([1, 2]).toContain(answers);
    expect(device.getState()).toMatchObject({ network: "away", queue: [{ inspection: { serial: "F-0001" } }] });
  });

  it("keeps a photo on the device and sends it after its inspection", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.addPhoto("AAAA");
    await device.send();
    expect(server.photos).toEqual([]);
    const again = await openDevice(server);
    expect(again.getState().photos).toMatchObject([{ serial: "F-0001", refusal: null }]);
    for (const value of GOOD) await again.enter(value);
    await again.send();
    expect(server.arrived).toHaveLength(1);
    expect(server.photos).toEqual([{ inspectionId: server.arrived[0]?.id, jpeg: "AAAA" }]);
    expect(again.getState().photos).toEqual([]);
  });

  it("questions a scan of another frame half way, and keeps both", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ pending: { serial: "F-0002", why: "unfinished" } });
    expect(device.getState().session?.serial).toBe("F-0001");
    await device.agree();
    expect(device.getState().session?.serial).toBe("F-0002");
    expect(device.getState().aside.map(({ serial }) => serial)).toEqual(["F-0001"]);
    await device.putAside();
    await device.enter("F-0001");
    expect(device.getState().session).toMatchObject({ serial: "F-0001", asked: 1 });
  });

  it("leases the batch that is taken, and says on which other device it is in hand since when", async () => {
    const kit = stationKit(2);
    const others = [{ id: "dev-2", name: "Station 2 tablet", since: "2026-03-02T08:12:00.000Z" }];
    const server = standInServer({ ...kit, zone: "UTC" });
    server.set({ batchElsewhere: others });
    const device = await atStation(server);
    const before = server.reports.length;
    await device.enter("F-0001");
    await expect
      .poll(() => device.getState().notice?.text)
      .toMatch(/^Batch B-1 is in hand on Station 2 tablet \(since 08:12\), too\. /);
    expect(server.reports.slice(before)).toMatchObject([{ batch: "B-1" }]);
    // Once: the next frame of it is measured without a word.
    for (const value of GOOD) await device.enter(value);
    await device.enter("F-0002");
    expect(server.reports).toHaveLength(before + 1);
    expect(device.getState()).toMatchObject({ session: { serial: "F-0002" }, notice: null });
  });

  it("says without the network who had the batch in hand when it was last read", async () => {
    const kit = stationKit(2);
    const batches = kit.batches.map((batch) => ({ ...batch, devices: [{ id: "dev-2", name: "Station 2 tablet" }] }));
    const server = standInServer({ ...kit, batches });
    const device = await atStation(server);
    server.set({ network: "away" });
    await device.chooseBatch("B-1");
    await expect
      .poll(() => device.getState().notice?.text)
      .toMatch(/^Batch B-1 is in hand on Station 2 tablet, too\. /);
    await device.chooseBatch(null);
    expect(device.getState().notice).toBeNull();
  });

  it("says under whose name readings go while nobody is signed in, until a badge is scanned", async () => {
    const kit = { ...stationKit(3), viewer: { name: "Rowan Tegg", code: "D7" } };
    const server = standInServer(kit);
    const device = await atStation(server);
    server.set({ signedOut: true });
    await device.enter("F-0001");
    expect(device.getState().notice?.text).toMatch(/^Signed out: readings go under Rowan Tegg until/);
    await device.enter("D2");
    await device.putAside();
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ session: { serial: "F-0002" }, notice: null });
  });

  it("changes the inspector by a badge in the middle of keying", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.enter("D2");
    expect(device.getState().inspector).toEqual({ code: "D2", name: "Tavin Quill" });
    for (const value of GOOD.slice(1)) await device.enter(value);
    await settled(device);
    expect(server.arrived[0]?.inspectorCode).toBe("D2");
  });

  it("asks why before a measured frame is measured again", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    await measure(device, "F-0001");
    await device.enter("F-0001");
    expect(device.getState().pending).toMatchObject({ why: "measured before" });
    await device.agree("after rework");
    for (const value of GOOD) await device.enter(value);
    await settled(device);
    expect(server.arrived.map(({ reason }) => reason)).toEqual([undefined, "after rework"]);
  });
});

describe("the gauge at hand", () => {
  it("is one whose zero check did not fail, also where another was chosen", () => {
    const kit = stationKit(1);
    const [first] = kit.gauges;
    const spare = { ...first!, key: "BG-2" };
    const both = { ...kit, gauges: [{ ...first!, zeroFailed: true }, spare] };
    const chosen = { ...FIRST_SETTINGS, gauges: { bore: "BG-1" } };
    expect(gaugesAtHand({ ...kit, gauges: [first!, spare] }, chosen).bore).toBe("BG-1");
    expect(gaugesAtHand(both, chosen).bore).toBe("BG-2");
    // Without another one the doubt stands in the verdict.
    expect(gaugesAtHand({ ...kit, gauges: [{ ...first!, zeroFailed: true }] }, chosen).bore).toBe("BG-1");
  });
});

describe("without the network", () => {
  it("measures on, and sends once and in order when it is back", async () => {
    const server = standInServer(stationKit(4));
    const device = await atStation(server);
    server.set({ network: "away" });
    for (const serial of ["F-0003", "F-0001", "F-0002"]) await measure(device, serial);
    await settled(device);
    expect(device.getState().queue.map(({ inspection }) => inspection.serial)).toEqual(["F-0003", "F-0001", "F-0002"]);
    expect(device.getState().network).toBe("away");
    server.set({ network: "there" });
    await device.send();
    expect(server.arrived.map(({ serial }) => serial)).toEqual(["F-0003", "F-0001", "F-0002"]);
    expect(device.getState().queue).toEqual([]);
  });

  it("keeps everything while nobody is signed in", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ signedOut: true });
    await measure(device, "F-0001");
    await device.send();
    expect(device.getState()).toMatchObject({ network: "signed out", queue: [{ state: "waiting" }] });
    server.set({ signedOut: false });
    await device.send();
    expect(server.arrived).toHaveLength(1);
  });

  it("sends again what the server took when its answer was lost, and the server has it once", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ network: "lost" });
    await device.enter("F-0001");
    for (const value of GOOD) await device.enter(value);
    await device.send();
    expect(device.getState().queue).toHaveLength(1);
    server.set({ network: "there" });
    await device.send();
    expect(server.arrived).toHaveLength(1);
    expect(server.repeats()).toBeGreaterThan(0);
    expect(device.getState().queue).toEqual([]);
  });

  it("keeps what the server refuses until a person decides, and lets the others pass", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    server.set({ network: "away" });
    for (const serial of ["F-0001", "F-0002"]) await measure(device, serial);
    server.set({
      network: "there",
      refuse: ({ serial, reason }) =>
        serial === "F-0001" && reason === undefined ? { code: "refused", detail: "measured before" } : null,
    });
    await device.send();
    await settled(device);
    expect(server.arrived.map(({ serial }) => serial)).toEqual(["F-0002"]);
    const [entry] = device.getState().queue;
    expect(entry).toMatchObject({ state: "refused", refusal: { code: "refused", message: "measured before" } });
    await device.decide(entry?.order ?? -1, { kind: "again", reason: "measured on two devices" });
    await settled(device);
    expect(server.arrived.map(({ serial }) => serial)).toEqual(["F-0002", "F-0001"]);
  });

  it("goes to a file and comes back from it on another device, once", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    const text = await device.saveText();
    database.close();
    globalThis.indexedDB = new IDBFactory();
    database = await openDeviceDatabase();
    const other = await atStation(standInServer(stationKit(2)));
    const second = standInServer(stationKit(2));
    const onSecond = new LineDevice({ database, fetcher: second.fetcher, now });
    await onSecond.open();
    await onSecond.loadText(text);
    await onSecond.loadText(text);
    await settled(onSecond);
    expect(second.arrived.map(({ serial }) => serial)).toEqual(["F-0001"]);
    await other.loadText("{}");
    expect(other.getState().notice?.text).toContain("not a queue");
  });
});

describe("what the server says later", () => {
  it("waits to be read where nobody saw it with the verdict, and not where somebody did", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    const toRead = () =>
      device
        .getState()
        .sent.filter(isToBeRead)
        .map(({ serial }) => serial);
    server.set({ warnings: ["Plan P1 was revised while this frame was measured."] });
    await measure(device, "F-0001");
    await settled(device);
    // The answer came while the verdict stood on the screen, and the next scan leaves it.
    await device.enter("F-0002");
    expect(toRead()).toEqual([]);
    server.set({ network: "away" });
    for (const value of GOOD) await device.enter(value);
    await device.closeFinished();
    await device.send();
    server.set({ network: "there" });
    await device.send();
    expect(toRead()).toEqual(["F-0002"]);
    const again = await openDevice(server);
    await again.markRead(
      again
        .getState()
        .sent.filter(isToBeRead)
        .map(({ id }) => id),
    );
    expect(again.getState().sent.filter(isToBeRead)).toEqual([]);
  });

  it("is a fault where the result differs and no doubt of a gauge explains it, and is reported", async () => {
    const server = standInServer(stationKit(1));
    const device = await atStation(server);
    server.set({ verdict: "does not conform" });
    await measure(device, "F-0001");
    await settled(device);
    await device.report(null);
    expect(server.reports.at(-1)).toMatchObject({ differences: ["F-0001"], waiting: 0 });
  });
});

describe("storage that is full", () => {
  it("makes room from what the server has, keeps what is only here, and says so", async () => {
    const server = standInServer(stationKit(60));
    const device = await atStation(server);
    for (let frame = 1; frame <= 30; frame += 1) await measure(device, `F-${String(frame).padStart(4, "0")}`);
    await settled(device);
    server.set({ network: "away" });
    await measure(device, "F-0031");
    await device.enter("F-0032");
    const full = Object.assign(new Error("full"), { name: "QuotaExceededError" });
    const transaction = database.transaction.bind(database);
    database.transaction = (() => {
      throw full;
    }) as unknown as typeof database.transaction;
    await device.enter("40.975");
    database.transaction = transaction;
    expect(device.getState().notice?.text).toMatch(/storage of this device is full/);
    expect(device.getState().session?.readings.filter((reading) => reading !== null)).toEqual([]);
    await device.enter("40.975");
    expect(device.getState().session?.asked).toBe(1);
    expect(await clearSent(database)).toBe(10);
    expect(device.getState().queue.map(({ inspection }) => inspection.serial)).toEqual(["F-0031"]);
    expect(await listQueue(database)).toHaveLength(1);
  });
});

describe("a device out of use", () => {
  it("keeps what waits, says why, and sends it when it is put back", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    await device.send();
    server.set({ network: "there", revoked: true });
    await device.report(null);
    await device.send();
    expect(device.getState()).toMatchObject({ revoked: "out of use", queue: [{ state: "waiting" }] });
    server.set({ revoked: false });
    await device.report(null);
    await device.send();
    expect(device.getState()).toMatchObject({ revoked: null, queue: [] });
    expect(server.arrived).toHaveLength(1);
  });

  it("hands its readings over by a file: another device sends them, with a reason that says where they were taken", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    const { deviceId } = device.getState();
    server.set({ network: "away" });
    await measure(device, "F-0001");
    const text = await device.saveText();
    globalThis.indexedDB = new IDBFactory();
    database = await openDeviceDatabase();
    const second = standInServer(stationKit(2));
    second.set({
      refuse: (inspection) =>
        inspection.deviceId === deviceId
          ? { code: "refused", detail: "out of use", details: { device: deviceId, revoked: true } }
          : null,
    });
    const other = await atStation(second);
    await other.loadText(text);
    await settled(other);
    const [entry] = other.getState().queue;
    await other.decide(entry?.order ?? -1, { kind: "again", reason: "tablet broken" });
    await settled(other);
    expect(second.arrived).toMatchObject([
      { serial: "F-0001", deviceId: other.getState().deviceId, reason: `measured on ${deviceId}: tablet broken` },
    ]);
  });
});

describe("a station out of use", () => {
  it("keeps what waits, starts nothing new, says why, and goes on when it is put back", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    await device.send();
    server.set({ network: "there", closed: "Bench 1 is out of use." });
    await device.report(null);
    await device.send();
    await device.refresh();
    expect(device.getState()).toMatchObject({ stationClosed: "Bench 1 is out of use.", queue: [{ state: "waiting" }] });
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({
      session: null,
      notice: { tone: "error", text: "Bench 1 is out of use." },
    });
    server.set({ closed: null });
    await device.refresh();
    await device.send();
    expect(device.getState()).toMatchObject({ stationClosed: null, queue: [] });
    await measure(device, "F-0002");
    await device.send();
    expect(server.order).toEqual(["F-0001", "F-0002"]);
  });

  it("lets the device be set to another one, and then sends what waits, so that the server answers for each", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    await device.send();
    server.set({ network: "there", closed: "Bench 1 is out of use." });
    await device.refresh();
    const refusal = { code: "refused", detail: "Station S1 is out of use." };
    server.set({ closed: null, refuse: () => refusal });
    await device.loadStations();
    expect(await device.chooseStation(device.getState().stations?.[0]?.id ?? "")).toBe(true);
    expect(device.getState()).toMatchObject({ stationClosed: null, queue: [{ inspection: { serial: "F-0001" } }] });
    await device.send();
    expect(device.getState().queue).toMatchObject([{ state: "refused", refusal: { message: refusal.detail } }]);
  });
});

describe("another station", () => {
  it("is not taken while the server does not answer: the device stays where it is, with all it has", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.putAside();
    server.set({ network: "away" });
    expect(await device.chooseStation("01920000-0000-7000-8000-0000000000ab")).toBe(false);
    const again = await openDevice(server);
    expect(again.getState()).toMatchObject({ settings: { stationId: STATION }, aside: [{ serial: "F-0001" }] });
    await measure(again, "F-0002");
    expect(again.getState().finished?.inspection.serial).toBe("F-0002");
  });
});

describe("what the device last heard of a frame", () => {
  it("counts where the server does not answer: shipped is refused, in hand elsewhere is said", async () => {
    const kit = stationKit(3);
    const frames = kit.frames.map((each) => ({
      ...each,
      frames: each.frames.map((frame) => ({
        ...frame,
        ...(frame.position === 1 ? { state: "shipped" as const } : {}),
        ...(frame.position === 2 ? { leaseDeviceId: "dev-2" } : {}),
      })),
    }));
    const batches = kit.batches.map((batch) => ({ ...batch, devices: [{ id: "dev-2", name: "Tablet 2" }] }));
    const server = standInServer({ ...kit, frames, batches });
    const device = await atStation(server);
    server.set({ network: "away" });
    await device.enter("F-0001");
    expect(device.getState()).toMatchObject({ session: null, notice: { tone: "error" } });
    expect(device.getState().notice?.text).toMatch(/^Frame F-0001 shipped already/);
    await device.enter("F-0002");
    expect(device.getState().session?.serial).toBe("F-0002");
    expect(device.getState().notice?.text).toMatch(/^Frame F-0002 was in hand on Tablet 2/);
  });

  it("is given up with the server when it answers again, unless it was taken in hand here once more", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    for (const serial of ["F-0001", "F-0002"]) {
      await device.enter(serial);
      await device.putAside();
    }
    server.set({ network: "away" });
    for (const { id } of device.getState().aside) await device.giveUp(id, "frame taken away");
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect(server.givenUp).toEqual([]);
    await device.enter("F-0002");
    server.set({ network: "there" });
    await device.send();
    expect(server.givenUp).toEqual(["F-0001"]);
    await device.send();
    expect(server.givenUp).toEqual(["F-0001"]);
  });
});

describe("a file of the queue", () => {
  it("that is not whole harms nothing: what is whole is loaded, the rest left out and said", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    server.set({ network: "away" });
    await measure(device, "F-0001");
    const file = JSON.parse(await device.saveText()) as Record<string, unknown[]>;
    globalThis.indexedDB = new IDBFactory();
    database = await openDeviceDatabase();
    const other = await openDevice(server);
    await other.loadText(
      JSON.stringify({
        ...file,
        queue: [...(file.queue ?? []), { inspection: { id: "x" } }, { check: { id: "y" } }],
        sessions: [{ id: "z" }, { id: "z2", serial: "F-0003", readings: [{}] }],
        photos: [null],
      }),
    );
    expect(other.getState().notice?.text).toMatch(/^1 of 6 in the file were loaded; 5 not whole and left out/);
    const again = await openDevice(server);
    expect(again.getState()).toMatchObject({ queue: [{ inspection: { serial: "F-0001" } }], aside: [], photos: [] });
  });

  it("brings the plan with a started frame, so that it is gone on with at another station", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.putAside();
    const text = await device.saveText();
    globalThis.indexedDB = new IDBFactory();
    database = await openDeviceDatabase();
    const kit = stationKit(1, "B-2");
    server.set({ kit: { ...kit, plans: [], frames: [] } });
    const other = await atStation(server);
    await other.loadText(JSON.stringify({ ...(JSON.parse(text) as object), plans: [] }));
    const [started] = other.getState().aside;
    await other.resume(started?.id ?? "");
    expect(other.getState()).toMatchObject({ session: null, aside: [{ serial: "F-0001" }], notice: { tone: "error" } });
    await other.loadText(text);
    await other.resume(started?.id ?? "");
    expect(other.getState().session).toMatchObject({ serial: "F-0001", asked: 1 });
    for (const value of GOOD.slice(1)) await other.enter(value);
    expect(other.getState().finished?.inspection.readings).toEqual(GOOD.map(Number));
  });
});

describe("what a person decided", () => {
  it("about readings under a badge that belongs to nobody any more goes under who decides, and says so", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.enter("D2");
    for (const value of GOOD.slice(1)) await device.enter(value);
    await settled(device);
    expect(server.arrived).toMatchObject([{ inspectorCode: "D2" }]);
    server.set({ refuse: () => ({ code: "not-found", detail: "nobody", details: { badge: "D2" } }) });
    await measure(device, "F-0002");
    await settled(device);
    server.set({ refuse: () => null });
    const kit = stationKit(2);
    server.set({ kit: { ...kit, inspectors: [{ name: "Rowan Tegg", badgeCode: "D7" }] } });
    await device.refresh();
    expect(device.getState()).toMatchObject({ inspector: null, notice: { tone: "caution" } });
    await device.enter("D7");
    await device.decide(device.getState().queue[0]?.order ?? 0, { kind: "again", reason: "old badge" });
    await settled(device);
    expect(server.arrived[1]).toMatchObject({ inspectorCode: "D7", reason: "measured under badge D2: old badge" });
  });

  it("about an entry that was put aside can be decided anew", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ refuse: () => ({ code: "refused", detail: "measured before" }) });
    await measure(device, "F-0001");
    await settled(device);
    const order = device.getState().queue[0]?.order ?? 0;
    await device.decide(order, { kind: "aside" });
    expect(device.getState().queue).toMatchObject([{ state: "aside" }]);
    await device.report(null);
    expect(server.reports.at(-1)).toMatchObject({ waiting: 0, refused: 1 });
    await device.decide(order, { kind: "anew" });
    expect(device.getState().queue).toMatchObject([{ state: "refused" }]);
    server.set({ refuse: () => null });
    await device.decide(order, { kind: "again", reason: "both count" });
    await settled(device);
    expect(server.arrived).toMatchObject([{ serial: "F-0001", reason: "both count" }]);
  });

  it("about a frame takes its photo along: given up, it stays here and is not sent for ever", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.addPhoto("AAAA");
    await device.giveUp(device.getState().session?.id ?? "", "frame taken away");
    await device.send();
    expect(server.photos).toEqual([]);
    expect(device.getState().photos).toEqual([]);
    expect(JSON.parse(await device.saveText())).toMatchObject({ photos: [{ serial: "F-0001", givenUp: true }] });
  });
});

describe("a frame measured again", () => {
  it("keeps why the frame is not what this inspection alone is", async () => {
    const server = standInServer(stationKit(3));
    const device = await atStation(server);
    const reasons = [{ name: "bore", seat: "ds", value: 40.952, unit: "mm", verdict: "not proven" }];
    server.set({ together: { frameVerdict: "not proven", reasons } });
    await measure(device, "F-0001");
    await settled(device);
    expect(device.getState().sent[0]).toMatchObject({ verdict: "conforms", frameVerdict: "not proven", reasons });
    server.set({ together: { frameVerdict: "conforms", reasons } });
    await measure(device, "F-0002");
    await settled(device);
    expect(device.getState().sent[0]).toMatchObject({ serial: "F-0002" });
    expect(device.getState().sent[0]?.reasons).toBeUndefined();
  });
});

describe("the device's clock", () => {
  it("goes with the readings as it is, and the server's decides what is due", async () => {
    const DAYS = 3 * 86_400_000;
    runServerClock(() => clock - DAYS);
    const kit = stationKit(2);
    const dueMs = clock - DAYS + 3_600_000;
    const gauges = kit.gauges.map((gauge) => ({
      ...gauge,
      calibratedUntil: new Date(dueMs).toISOString(),
      calibrations: [{ atMs: 0, dueMs }],
    }));
    const server = standInServer({ ...kit, gauges });
    const device = await atStation(server);
    await measure(device, "F-0001");
    await settled(device);
    const [inspection] = server.arrived;
    expect(device.getState().pending).toBeNull();
    expect(Math.abs((inspection?.clockSkewMs ?? 0) - DAYS)).toBeLessThan(1000);
    expect(recordInspectionSchema.safeParse(inspection).success).toBe(true);
  });

  it("set back by a flat battery while the network was away, is compared again before anything goes out", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    expect(device.getState().skew).not.toBeNull();
    server.set({ network: "away" });
    const YEARS = 6 * 365 * 86_400_000;
    clock -= YEARS;
    runServerClock(() => clock + YEARS);
    const again = await openDevice(server);
    await measure(again, "F-0001");
    await again.send();
    expect(again.getState().queue[0]?.inspection.clockSkewMs).toBeUndefined();
    server.set({ network: "there" });
    await again.send();
    await settled(again);
    expect(Math.abs((server.arrived[0]?.clockSkewMs ?? 0) + YEARS)).toBeLessThan(1000);
  });

  it("goes corrected where the server could not place an inspection in time", async () => {
    const server = standInServer(stationKit(2));
    const device = await atStation(server);
    server.set({ refuse: () => ({ code: "invalid-input", detail: "lies in the future", details: { clock: true } }) });
    await measure(device, "F-0001");
    await settled(device);
    const [entry] = device.getState().queue;
    expect(entry?.state).toBe("refused");
    // Somebody had set the clock an hour ahead; what the server says now shows it.
    runServerClock(() => clock - 3_600_000);
    await device.report(null);
    server.set({ refuse: () => null });
    await device.decide(entry?.order ?? 0, { kind: "again", reason: "the clock was wrong" });
    await settled(device);
    expect(Math.abs((server.arrived[0]?.clockSkewMs ?? 0) - 3_600_000)).toBeLessThan(1000);
    expect(server.arrived[0]?.deviceTime).toBe(entry?.inspection.deviceTime);
  });
});

describe("killed at random", () => {
  it("every finished inspection arrives exactly once, in order", async () => {
    const FRAMES = 120;
    const random = createSeededGenerator(41);
    const server = standInServer(stationKit(FRAMES));
    let device = await atStation(server);
    let kills = 0;
    for (let frame = 1; frame <= FRAMES; frame += 1) {
      const serial = `F-${String(frame).padStart(4, "0")}`;
      await device.enter(serial);
      for (const value of GOOD) {
        await device.enter(value);
        const dice = random.uniform();
        if (dice < 0.04) {
          // The tab dies with whatever it was doing; another begins from what is on the disk.
          void device.send();
          device = await openDevice(server);
          kills += 1;
        } else if (dice < 0.07) server.set({ network: "away" });
        else if (dice < 0.09) server.set({ network: "lost" });
        else if (dice < 0.13) server.set({ network: "there" });
      }
      expect(device.getState().session).toBeNull();
    }
    server.set({ network: "there" });
    await device.send();
    await settled(device);
    await device.send();
    expect(kills).toBeGreaterThan(50);
    expect(server.arrived.map(({ serial }) => serial)).toEqual(
      Array.from({ length: FRAMES }, (_, index) => `F-${String(index + 1).padStart(4, "0")}`),
    );
    expect(server.arrived.every(({ readings }) => readings.every((value, at) => value === Number(GOOD[at])))).toBe(
      true,
    );
  });
});
