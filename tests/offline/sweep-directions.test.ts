import "fake-indexeddb/auto";
import { IDBFactory } from "fake-indexeddb";
import { beforeEach, describe, expect, it } from "vitest";
import { openDeviceDatabase } from "@/lib/offline/device/device-database";
import { LineDevice } from "@/lib/offline/line-device";
import { directionsToAsk } from "@/lib/offline/verdict/sweep-directions";
import { runServerClock, STATION, standInServer, stationKit } from "./station-server";

const HOUR_MS = 3_600_000;
const MORNING = Date.parse("2026-06-12T06:00:00Z");
const NDS = { seat: "nds", depthMm: 8, firstDeg: [0, 45] } as const;
const SHALLOW = { ...NDS, depthMm: 2 };
const TURNED = { ...NDS, firstDeg: [0, 315] } as const;

let clock = MORNING;
beforeEach(() => {
  clock = MORNING;
  runServerClock(() => clock);
  globalThis.indexedDB = new IDBFactory();
});

async function openDevice(zone = "UTC"): Promise<LineDevice> {
  const { fetcher } = standInServer({ ...stationKit(1), zone });
  const device = new LineDevice({ database: await openDeviceDatabase(), fetcher, now: () => clock });
  await device.open();
  return device;
}

describe("which way round sweeps were keyed", () => {
  it("is asked once a station and day, also after a reload, and anew where a sweep begins otherwise", async () => {
    const device = await openDevice();
    await device.chooseStation(STATION);
    expect(directionsToAsk([NDS], device.getState(), clock)).toEqual([NDS]);
    await device.confirmDirections([NDS]);
    const reloaded = (await openDevice()).getState();
    expect(directionsToAsk([NDS, SHALLOW, TURNED], reloaded, clock)).toEqual([TURNED]);
    expect(directionsToAsk([NDS], reloaded, clock + 17 * HOUR_MS)).toEqual([]);
    expect(directionsToAsk([NDS], reloaded, clock + 18 * HOUR_MS)).toEqual([NDS]);
    const elsewhere = { ...reloaded, settings: { ...reloaded.settings, stationId: "another" } };
    expect(directionsToAsk([NDS], elsewhere, clock)).toEqual([NDS]);
  });

  it("goes by the day of the plant, and keeps the answers of the same day together", async () => {
    // 06:00 UTC is 22:00 of the day before in UTC-8 (Etc/GMT+8 by POSIX signs).
    const device = await openDevice("Etc/GMT+8");
    await device.chooseStation(STATION);
    await device.confirmDirections([NDS]);
    await device.confirmDirections([TURNED]);
    const state = device.getState();
    expect(directionsToAsk([NDS, TURNED], state, clock + HOUR_MS)).toEqual([]);
    expect(directionsToAsk([NDS, TURNED], state, clock + 3 * HOUR_MS)).toEqual([NDS, TURNED]);
  });
});
