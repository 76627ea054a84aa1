import "fake-indexeddb/auto";
import { IDBFactory } from "fake-indexeddb";
import { beforeEach, describe, expect, it } from "vitest";
import { type DeviceDatabase, openDeviceDatabase } from "@/lib/offline/device/device-database";
import { LineDevice } from "@/lib/offline/line-device";
import { gaugesAtHand } from "@/lib/offline/device/station-gauges";
import { recordZeroCheckSchema } from "@/lib/schemas/gauge";
import type { GaugeZero, StationGauge, StationKit } from "@/lib/schemas/station-package";
import { runServerClock, STATION, standInServer, stationKit, type StandIn } from "./station-server";

const GOOD = [...Array.from({ length: 12 }, () => "40.975"), ...Array.from({ length: 16 }, () => "0")];
const HOUR_MS = 3_600_000;
const START = Date.parse("2026-06-12T09:00:00Z");

let clock = START;
const now = (): number => (clock += 7);
let database: DeviceDatabase;

beforeEach(async () => {
  clock = START;
  runServerClock(() => clock);
  globalThis.indexedDB = new IDBFactory();
  database = await openDeviceDatabase();
});

const hoursAgo = (hours: number): string => new Date(START - hours * HOUR_MS).toISOString();
const ZERO: GaugeZero = { ring: "R41", limitUm: 3, lastAt: hoursAgo(1), lastGoodAt: hoursAgo(1), lastDriftUm: 0.4 };

/** A station with a comparator whose last zero check was so long ago, and another one beside it where asked. */
function kitWith(change: Partial<GaugeZero> = {}, options: { frames?: number; spare?: boolean } = {}): StationKit {
  const kit = stationKit(options.frames ?? 4);
  const gauge = { ...(kit.gauges[0] as StationGauge), zeroFailed: false, zero: { ...ZERO, ...change } };
  const spare = { ...gauge, key: "BG-2", zero: ZERO };
  return { ...kit, zone: "UTC", gauges: options.spare === true ? [gauge, spare] : [gauge] };
}

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

async function measure(device: LineDevice, serial: string): Promise<void> {
  await device.enter(serial);
  for (const value of GOOD) await device.enter(value);
}

/** Keyed while the zero check of the bore gauge was on the screen. */
const AT_RING = "zero BG-1";

const boreGauge = (device: LineDevice) => device.getState().kit?.gauges.find(({ key }) => key === "BG-1");

describe("a zero check that is due", () => {
  it("is asked for before the scanned frame, and the frame starts by itself once it passed", async () => {
    const server = standInServer(kitWith({ lastAt: hoursAgo(9), lastGoodAt: hoursAgo(9) }));
    const device = await atStation(server);
    await device.enter("F-0001");
    expect(device.getState()).toMatchObject({
      session: null,
      zero: { gauge: "BG-1", occasion: "shift start", why: "the last one is 9 h ago", failed: null },
    });
    await device.enter("40.9754", AT_RING);
    expect(device.getState()).toMatchObject({ zero: null, session: { serial: "F-0001", asked: 0 } });
    await device.send();
    expect(server.checks).toHaveLength(1);
    expect(recordZeroCheckSchema.safeParse(server.checks[0]).success).toBe(true);
    expect(server.checks[0]).toMatchObject({ gauge: "BG-1", readingMm: 40.9754, occasion: "shift start" });
    // Once is enough: the next frame starts without.
    for (const value of GOOD) await device.enter(value);
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ zero: null, session: { serial: "F-0002" } });
  });

  it("waits where somebody wants to measure first, and is asked for again at the next frame", async () => {
    const server = standInServer(kitWith({ lastAt: null, lastGoodAt: null, lastDriftUm: null }));
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.leaveZero();
    expect(device.getState().session?.serial).toBe("F-0001");
    for (const value of GOOD) await device.enter(value);
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ session: null, zero: { gauge: "BG-1" } });
    await device.dropZero();
    expect(device.getState()).toMatchObject({ session: null, zero: null });
  });

  it.each(["by its key", "by a scan"])(
    "is asked for before a frame that was put aside is gone on with %s",
    async (how) => {
      const device = await atStation(standInServer(kitWith()));
      await device.enter("F-0001");
      for (const value of GOOD.slice(0, 3)) await device.enter(value);
      await device.putAside();
      // The next shift.
      clock += 9 * HOUR_MS;
      const [aside] = device.getState().aside;
      const goOn = () => (how === "by a scan" ? device.enter("F-0001") : device.resume(aside?.id ?? ""));
      await goOn();
      expect(device.getState()).toMatchObject({ session: null, zero: { gauge: "BG-1", occasion: "shift start" } });
      // Left without a check, the frame waits as it was.
      await device.dropZero();
      expect(device.getState()).toMatchObject({ zero: null, aside: [{ serial: "F-0001" }] });
      await goOn();
      await device.enter("40.9754", AT_RING);
      expect(device.getState()).toMatchObject({ zero: null, aside: [], session: { serial: "F-0001", asked: 3 } });
    },
  );

  it("is not asked for by a clock that is a day ahead, when a frame that was put aside is gone on with", async () => {
    clock += 24 * HOUR_MS;
    runServerClock(() => clock - 24 * HOUR_MS);
    const device = await atStation(standInServer(kitWith()));
    await device.enter("F-0001");
    await device.putAside();
    await device.resume(device.getState().aside[0]?.id ?? "");
    expect(device.getState()).toMatchObject({ zero: null, session: { serial: "F-0001" } });
  });

  it("takes deviations where the gauge shows them, and asks about a missing decimal sign and a wrong ring", async () => {
    const server = standInServer(kitWith());
    const device = await atStation(server);
    await device.checkZero("BG-1");
    await device.enter("409752", AT_RING);
    expect(device.getState().zero).toMatchObject({ question: 40.9752, refusal: null });
    await device.enter("45.975", AT_RING);
    expect(device.getState().zero).toMatchObject({ question: null, refusal: expect.stringMatching(/from ring R41/) });
    await device.changeSettings({ boreEntry: "deviation" });
    await device.enter("-1,5", AT_RING);
    expect(device.getState().checks[0]?.check ?? server.checks[0]).toMatchObject({ readingMm: 40.9735 });
    expect(boreGauge(device)).toMatchObject({ zeroFailed: false, zero: { lastDriftUm: -1.5 } });
  });

  it.each(["µm", "mm"] as const)(
    "takes no size for a deviation in %s: a good gauge would be failed by it",
    async (unit) => {
      const device = await atStation(standInServer(kitWith()));
      await device.changeSettings({ boreEntry: "deviation", smallUnit: unit });
      await device.checkZero("BG-1");
      await device.enter("40.9754", AT_RING);
      expect(device.getState()).toMatchObject({
        checks: [],
        zero: { failed: null, refusal: expect.stringMatching(/“40.9754” is a size: .* ring R41 is keyed, in (µm|mm)/) },
      });
      await device.enter("0", AT_RING);
      expect(boreGauge(device)).toMatchObject({ zeroFailed: false, zero: { lastDriftUm: 0 } });
    },
  );

  it("is not answered by a number that was typed before it was shown, nor a reading by one that was typed at it", async () => {
    const device = await atStation(standInServer(kitWith({ lastAt: hoursAgo(9), lastGoodAt: hoursAgo(9) })));
    // A gauge that sends at once, behind the scan: 40.975 would pass for what it shows in its ring.
    await Promise.all([device.enter("F-0001"), device.enter("40.975")]);
    expect(device.getState()).toMatchObject({
      session: null,
      checks: [],
      zero: { gauge: "BG-1", failed: null, refusal: expect.stringMatching(/“40.975” was typed before this check/) },
    });
    await Promise.all([device.enter("40.9754", AT_RING), device.enter("40.9754", AT_RING)]);
    expect(device.getState()).toMatchObject({
      zero: null,
      session: { serial: "F-0001", asked: 0 },
      notice: { tone: "caution", text: expect.stringMatching(/“40.9754” is not taken/) },
    });
  });

  it("counts the frames that the plan allows between two, and the end of the batch", async () => {
    const kit = kitWith({}, { frames: 3 });
    const plans = kit.plans.map((plan) => ({ ...plan, settings: { zeroCheck: { everyFrames: 2, everyHours: 24 } } }));
    const device = await atStation(standInServer({ ...kit, plans }));
    await measure(device, "F-0001");
    await measure(device, "F-0002");
    await device.enter("F-0003");
    expect(device.getState().zero).toMatchObject({ why: "2 frames since the last one", occasion: "other" });
    await device.enter("40.975", AT_RING);
    for (const value of GOOD) await device.enter(value);
    await device.checkZero("BG-1");
    expect(device.getState().zero).toMatchObject({ occasion: "batch end", why: "the batch is measured" });
  });

  it("is asked for after a knock, in the middle of a frame", async () => {
    const server = standInServer(kitWith());
    const device = await atStation(server);
    await device.enter("F-0001");
    await device.enter("40.975");
    await device.checkZero("BG-1", true);
    const again = await openDevice(server);
    await again.checkZero("BG-1");
    expect(again.getState().zero).toMatchObject({ occasion: "after a knock" });
    await again.enter("40.9751", AT_RING);
    expect(again.getState()).toMatchObject({ zero: null, session: { serial: "F-0001", asked: 1 } });
  });

  it("lets a badge through: the check is then that inspector's", async () => {
    const server = standInServer(kitWith());
    const device = await atStation(server);
    await device.checkZero("BG-1");
    await device.enter("D2");
    expect(device.getState()).toMatchObject({ inspector: { code: "D2" }, zero: { gauge: "BG-1" } });
    await device.enter("40.975", AT_RING);
    await device.send();
    expect(server.checks[0]?.inspectorCode).toBe("D2");
  });
});

describe("a zero check that fails", () => {
  it("takes the gauge off the offer at once, and names what it measured since the last good one", async () => {
    const server = standInServer(kitWith({}, { spare: true }));
    const device = await atStation(server);
    await measure(device, "F-0001");
    await device.enter("F-0002");
    await device.enter("40.975");
    server.set({ network: "away" });
    await device.checkZero("BG-1", true);
    await device.enter("40.981", AT_RING);
    const { zero, kit, settings } = device.getState();
    expect(zero?.failed).toMatchObject({
      driftUm: 6,
      passed: false,
      since: ZERO.lastGoodAt,
      serials: ["F-0001", "F-0002"],
    });
    expect(gaugesAtHand(kit, settings).bore).toBe("BG-2");
    await device.leaveZero();
    for (const value of GOOD.slice(1)) await device.enter(value);
    const { finished } = device.getState();
    expect(finished?.inspection.gauges?.slice(0, 3)).toEqual(["BG-1", "BG-2", "BG-2"]);
    expect(finished?.gauges.doubts.map(({ name, seat }) => `${seat} ${name}`)).toContain("ds bore");
    expect(device.getState().queue.at(-1)?.deviceVerdict).toBe("not proven");
    server.set({ network: "there" });
    await device.send();
    expect(server.order).toEqual(["F-0001", "zero BG-1", "F-0002"]);
    expect(device.getState().sentChecks[0]).toMatchObject({ answer: { passed: false, held: 2, batchesHeld: ["B-1"] } });
    expect(device.getState().checks).toEqual([]);
  });

  it("doubts only what was measured before the gauge was good again", async () => {
    const device = await atStation(standInServer(kitWith()));
    await device.enter("F-0001");
    for (const value of GOOD.slice(0, 3)) await device.enter(value);
    await device.checkZero("BG-1", true);
    await device.enter("40.985", AT_RING);
    await device.checkZeroAgain();
    await device.enter("40.975", AT_RING);
    expect(device.getState()).toMatchObject({ zero: null, session: { asked: 3 } });
    for (const value of GOOD.slice(3)) await device.enter(value);
    const seats = device
      .getState()
      .finished?.gauges.doubts.flatMap(({ name, seat }) => (name === "bore" ? [seat] : []));
    expect(seats).toEqual(["ds"]);
  });

  it("is kept through a crash and a new package from the server that does not know it yet", async () => {
    const server = standInServer(kitWith());
    const device = await atStation(server);
    server.set({ network: "away" });
    await device.checkZero("BG-1");
    await device.enter("40.981", AT_RING);
    const again = await openDevice(server);
    expect(boreGauge(again)).toMatchObject({ zeroFailed: true, zero: { lastDriftUm: 6, lastGoodAt: ZERO.lastGoodAt } });
    server.set({ network: "there", refuseCheck: { code: "not-found", detail: "The gauge BG-1 is not known." } });
    await again.refresh();
    expect(boreGauge(again)?.zeroFailed).toBe(true);
    await again.send();
    const [refused] = again.getState().checks;
    expect(refused).toMatchObject({ state: "refused", refusal: { message: "The gauge BG-1 is not known." } });
    server.set({ refuseCheck: null });
    await again.decide(refused?.order ?? -1, { kind: "again", reason: "" });
    await again.send();
    expect(server.checks).toHaveLength(1);
  });

  it("asks before a gauge in doubt is used, once, where there is no other", async () => {
    const kit = kitWith({ lastDriftUm: 7, lastGoodAt: hoursAgo(5) });
    const gauges = kit.gauges.map((gauge) => ({ ...gauge, zeroFailed: true }));
    const device = await atStation(standInServer({ ...kit, gauges }));
    await device.enter("F-0001");
    expect(device.getState().pending).toMatchObject({
      why: "gauge",
      gauge: { key: "BG-1", doubt: "its last zero check was +7.0\u00a0µm off" },
    });
    await device.agree();
    expect(device.getState().session?.serial).toBe("F-0001");
    for (const value of GOOD) await device.enter(value);
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ pending: null, session: { serial: "F-0002" } });
  });
});

describe("a gauge out of calibration", () => {
  it("is asked about, and holds the frame on the device as it does at the server", async () => {
    const kit = kitWith();
    const gauges = kit.gauges.map((one) => ({ ...one, calibratedUntil: hoursAgo(24), overdue: true }));
    const device = await atStation(standInServer({ ...kit, gauges }));
    await device.enter("F-0001");
    expect(device.getState().pending?.gauge?.doubt).toBe("its calibration ran out on 2026-06-11");
    await device.agree();
    for (const value of GOOD) await device.enter(value);
    expect(device.getState()).toMatchObject({ finished: { gauges: { overdue: ["BG-1"] } }, feedback: { tone: "out" } });
  });
});

describe("the queue's file", () => {
  it("takes zero checks, photos and started frames along, and brings them back once", async () => {
    const server = standInServer(kitWith());
    const device = await atStation(server);
    server.set({ network: "away" });
    await device.checkZero("BG-1");
    await device.enter("40.975", AT_RING);
    await measure(device, "F-0001");
    await device.addPhoto("AAAA");
    await device.enter("F-0002");
    await device.enter("40.975");
    const text = await device.saveText();
    globalThis.indexedDB = new IDBFactory();
    database = await openDeviceDatabase();
    const second = standInServer(kitWith());
    const other = await atStation(second);
    await other.loadText(text);
    expect(other.getState().notice?.text).toBe("4 of 4 in the file were loaded.");
    await other.loadText(text);
    await other.send();
    await other.send();
    expect(second.order).toEqual(["zero BG-1", "F-0001"]);
    expect(second.photos).toHaveLength(1);
    expect(other.getState().aside.map(({ serial }) => serial)).toEqual(["F-0002"]);
  });
});
