import "fake-indexeddb/auto";
import { IDBFactory } from "fake-indexeddb";
import { beforeEach, describe, expect, it } from "vitest";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { openDeviceDatabase } from "@/lib/offline/device/device-database";
import { firstOffNow } from "@/lib/offline/device/first-off";
import { LineDevice } from "@/lib/offline/line-device";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import type { FirstOffFrame, FirstOffState } from "@/lib/schemas/first-off";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import { runServerClock, STATION, standInServer, stationKit, type StandIn } from "../station-server";

/** The shift of six o'clock UTC has run for three hours. */
const START = Date.parse("2026-06-12T09:00:00Z");
const SIX = "2026-06-12T06:00:00.000Z";
const FULL = "01920000-0000-7000-8000-0000000000f1";
const WHY = "start of the shift";

let clock = START;
const now = (): number => (clock += 7);

beforeEach(() => {
  clock = START;
  runServerClock(() => clock);
  globalThis.indexedDB = new IDBFactory();
});

/** A station whose plan asks for a first-off each shift, measured by the full plan. */
function kitWith(firstOff: FirstOffState): StationKit {
  const kit = stationKit(4);
  const routine = kit.plans[0] as StationPlan;
  const full: StationPlan = {
    ...routine,
    planRevisionId: FULL,
    planId: FULL,
    planKey: "FULL",
    readingNames: fullPlan(PRESS_FIT_41).map(formatReadingName),
  };
  const asks: StationPlan = {
    ...routine,
    settings: { firstOff: { each: "shift", starts: ["06:00", "14:00"], plan: "FULL" } },
  };
  return { ...kit, zone: "UTC", plans: [asks, full], firstOff };
}

const frame = (change: Partial<FirstOffFrame> = {}): FirstOffFrame => ({
  inspectionId: FULL,
  serial: "F-0001",
  batch: "B-1",
  verdict: "conforms",
  measuredAt: SIX,
  ...change,
});

async function atStation(server: StandIn): Promise<LineDevice> {
  const device = new LineDevice({ database: await openDeviceDatabase(), fetcher: server.fetcher, now });
  await device.open();
  await device.loadStations();
  await device.chooseStation(STATION);
  return device;
}

async function keyAll(device: LineDevice, boreMm = "40.975"): Promise<void> {
  const { session, plans } = device.getState();
  for (const name of plans[session?.planRevisionId ?? ""]?.readingNames ?? []) {
    const usual = name.includes(".bore.") ? boreMm : name.startsWith("width") ? "86.5" : "0";
    await device.enter(usual);
  }
}

describe("the first-off at the station", () => {
  it("is asked in full by the fuller plan, marked, and then the line waits", async () => {
    const server = standInServer(kitWith({ state: "due", why: WHY, since: SIX }));
    const device = await atStation(server);
    expect(device.firstOff()).toEqual({ kind: "asked", why: WHY, since: SIX, failed: null });
    await device.enter("F-0001");
    expect(device.getState().session).toMatchObject({ planRevisionId: FULL, firstOff: true });
    server.set({ network: "away" });
    await keyAll(device);
    expect(device.getState().finished?.inspection).toMatchObject({
      planRevisionId: FULL,
      attributes: { firstOff: true },
    });
    expect(device.firstOff()).toEqual({ kind: "waits", why: WHY, since: SIX, serial: "F-0001" });
    await device.enter("F-0002");
    expect(device.getState()).toMatchObject({ session: null, pending: { why: "first-off", serial: "F-0002" } });
  });

  it("goes on once an engineer released it: looked at again, the scan starts by its own plan", async () => {
    const waiting: FirstOffState = { state: "waiting", why: WHY, since: SIX, frame: frame() };
    const server = standInServer(kitWith(waiting));
    const device = await atStation(server);
    await device.enter("F-0002");
    await device.lookAgain();
    expect(device.getState()).toMatchObject({ pending: { why: "first-off" }, notice: { tone: "caution" } });
    const released = { state: "released", why: WHY, since: SIX, by: "E", at: SIX, grounds: "good" } as const;
    server.set({ kit: kitWith({ ...released, frame: frame() }) });
    await device.lookAgain();
    expect(device.getState()).toMatchObject({ pending: null, session: { serial: "F-0002" } });
    expect(device.getState().session?.planRevisionId).not.toBe(FULL);
    expect(device.getState().session?.firstOff).toBeUndefined();
  });

  it("measures before the release only with a reason, which stays in the record", async () => {
    const device = await atStation(standInServer(kitWith({ state: "waiting", why: WHY, since: SIX, frame: frame() })));
    await device.enter("F-0002");
    await device.agree("to adjust the process");
    expect(device.getState().session).toMatchObject({ serial: "F-0002", beforeRelease: "to adjust the process" });
    await keyAll(device);
    expect(device.getState().finished?.inspection.attributes).toEqual({ beforeRelease: "to adjust the process" });
    expect(device.getState().finished?.inspection.reason).toBeUndefined();
  });

  it("asks for the next frame where the first one failed", async () => {
    const device = await atStation(standInServer(kitWith({ state: "due", why: WHY, since: SIX })));
    await device.enter("F-0001");
    await keyAll(device, "41.02");
    expect(device.firstOff()).toEqual({ kind: "asked", why: WHY, since: SIX, failed: "F-0001" });
    await device.enter("F-0002");
    expect(device.getState().session).toMatchObject({ serial: "F-0002", firstOff: true });
  });

  it("asks nothing where no plan does", async () => {
    const device = await atStation(standInServer(stationKit(2)));
    expect(device.firstOff()).toEqual({ kind: "free" });
    await device.enter("F-0001");
    expect(device.getState().session?.firstOff).toBeUndefined();
  });
});

describe("without the network", () => {
  it("falls due again when the next shift begins by the device's clock", () => {
    const released = { state: "released", why: WHY, since: SIX, by: "E", at: SIX, grounds: "good" } as const;
    const kit = kitWith({ ...released, frame: frame() });
    expect(firstOffNow(kit, null, Date.parse("2026-06-12T13:59:00Z"))).toEqual({ kind: "free" });
    const since = "2026-06-12T14:00:00.000Z";
    expect(firstOffNow(kit, null, Date.parse("2026-06-12T14:00:30Z"))).toMatchObject({ kind: "asked", since });
    const own = { ...frame(), since, verdict: "conforms" as const };
    expect(firstOffNow(kit, own, Date.parse("2026-06-12T15:00:00Z"))).toMatchObject({ kind: "waits" });
    expect(firstOffNow(kit, own, Date.parse("2026-06-13T07:00:00Z"))).toMatchObject({ kind: "asked", failed: null });
  });
});
