import { describe, expect, it } from "vitest";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { parseReadingName } from "@/lib/core/metrology/reading-name";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { judgeFrame } from "@/lib/quality/judge-frame";
import { createDemoPlan } from "@/lib/simulation/demo-plan";
import { STORY } from "@/lib/simulation/demo-story";

const NOW = Date.UTC(2026, 5, 24, 9, 30);
const started = process.cpuUsage();
const plan = createDemoPlan(41, NOW);
const spent = process.cpuUsage(started);

const compiled = new Map(
  plan.plans.map(({ key, drawing, readingNames }) => {
    const names = readingNames.map((text) => {
      const name = parseReadingName(text);
      if (!name.ok) throw new Error(name.reason);
      return name.value;
    });
    const found = findDemonstrationDrawing(drawing);
    if (!found) throw new Error(drawing);
    return [key, { drawing: found, measurement: compileMeasurement(names, found) }] as const;
  }),
);

/** Characteristics that do not conform or are not proven, by batch and station. */
function findings(): Map<string, Set<string>> {
  const found = new Map<string, Set<string>>();
  for (const { batch, station, plan: key, readings } of plan.inspections) {
    const prepared = compiled.get(key);
    if (!prepared) throw new Error(key);
    const { drawing, measurement } = prepared;
    const judgement = judgeFrame(drawing, measurement, measureFrame(measurement, readings));
    if (!judgement.holdsFrame) continue;
    const names = found.get(`${batch} ${station}`) ?? new Set();
    for (const { name, verdict } of judgement.characteristics) if (verdict !== "conforms") names.add(name);
    found.set(`${batch} ${station}`, names);
  }
  return found;
}

const days = [...new Set(plan.batches.map(({ openedAt }) => Math.floor(openedAt / 86_400_000)))].sort((a, b) => a - b);
const batchOf = (line: string, daysAgo: number) => {
  const day = days[days.length - 1 - daysAgo];
  const batch = plan.batches.find((one) => one.line === line && Math.floor(one.openedAt / 86_400_000) === day);
  if (!batch) throw new Error(`no batch of ${line} ${daysAgo} days ago`);
  return batch;
};

describe("createDemoPlan", () => {
  it("makes about 6,000 frames over 60 days in three lines, quickly", () => {
    const frames = plan.batches.reduce((sum, batch) => sum + batch.frames.length, 0);
    expect(frames).toBeGreaterThan(5700);
    expect(frames).toBeLessThan(6300);
    expect(new Set(plan.batches.map(({ line }) => line))).toEqual(new Set(["C41", "A46", "A42"]));
    expect(NOW - plan.from).toBeGreaterThan(59 * 86_400_000);
    expect((spent.user + spent.system) / 1e6).toBeLessThan(5);
  });

  it("is plain data that refers only to what is in it", () => {
    expect(JSON.parse(JSON.stringify(plan))).toEqual(plan);
    const keys = (list: readonly { readonly key: string }[]) => new Set(list.map(({ key }) => key));
    const [stations, plans, people, gauges, batches, suppliers] = [
      plan.stations,
      plan.plans,
      plan.people,
      plan.gauges,
      plan.batches,
      plan.suppliers,
    ].map(keys);
    const serials = new Map(
      plan.batches.flatMap(({ key, frames }) => frames.map(({ serial }) => [serial, key] as const)),
    );
    expect(serials.size).toBe(plan.batches.reduce((sum, { frames }) => sum + frames.length, 0));
    expect(batches?.size).toBe(plan.batches.length);
    for (const inspection of plan.inspections) {
      expect(
        stations?.has(inspection.station) && plans?.has(inspection.plan) && people?.has(inspection.inspector),
      ).toBe(true);
      expect(serials.get(inspection.serial)).toBe(inspection.batch);
      for (const gauge of Object.values(inspection.gauges)) expect(gauges?.has(gauge), gauge).toBe(true);
      expect(inspection.readings).toHaveLength(
        plan.plans.find(({ key }) => key === inspection.plan)?.readingNames.length ?? -1,
      );
    }
    for (const { supplier } of plan.batches) expect(suppliers?.has(supplier)).toBe(true);
    for (const { person } of [...plan.events, ...plan.zeroChecks]) expect(people?.has(person)).toBe(true);
    for (const { gauge, ring } of plan.zeroChecks) {
      expect(gauges?.has(gauge)).toBe(true);
      expect(plan.rings.some(({ key }) => key === ring)).toBe(true);
    }
  });

  it("is in the order of time, with nothing in the future and today's batches half measured", () => {
    for (const list of [
      plan.inspections.map(({ measuredAt }) => measuredAt),
      plan.events.map(({ at }) => at),
      plan.zeroChecks.map(({ at }) => at),
      plan.batches.map(({ openedAt }) => openedAt),
    ]) {
      expect(list).toEqual([...list].sort((a, b) => a - b));
      expect(list.at(-1)).toBeLessThanOrEqual(NOW);
    }
    for (const line of plan.lines) {
      const { key, frames } = batchOf(line.key, 0);
      const measured = new Set(plan.inspections.filter(({ batch }) => batch === key).map(({ serial }) => serial)).size;
      expect(measured).toBe(Math.floor(frames.length / 2));
    }
  });

  it("carries every fault of the scenario, each in its batch and its characteristic, and little else", () => {
    const found = findings();
    const at = (line: string, daysAgo: number, station = `${line}-M`) =>
      found.get(`${batchOf(line, daysAgo).key} ${station}`) ?? new Set();
    const { lateReamer, tired, paint, ovalMould, gauge, fixture } = STORY;
    expect(at(lateReamer.line, lateReamer.changedDaysAgo + 1)).toContain("bore");
    expect(at(lateReamer.line, lateReamer.changedDaysAgo)).toEqual(new Set());
    expect([...at(tired.line, tired.daysAgo[0]), ...at(tired.line, tired.daysAgo[1])].length).toBeGreaterThan(0);
    expect(at(paint.line, paint.daysAgo, "A46-P")).toContain("bore");
    expect(at(paint.line, paint.daysAgo)).toEqual(new Set());
    expect(at(ovalMould.line, ovalMould.daysAgo)).toContain("ovality");
    expect(at(gauge.line, gauge.driftDaysAgo)).toEqual(new Set(["bore"]));
    expect(at(fixture.line, fixture.knockedDaysAgo)).toContain("coaxiality");
    expect(at(fixture.line, fixture.shimmedDaysAgo)).toContain("coaxiality");
    expect(at(fixture.line, fixture.shimmedDaysAgo - 1)).toEqual(new Set());
    expect(found.size).toBeGreaterThanOrEqual(9);
    expect(found.size).toBeLessThan(20);
  });

  it("has the same plan for the same seed and moment, and another for another seed", () => {
    expect(createDemoPlan(41, NOW)).toEqual(plan);
    expect(createDemoPlan(42, NOW).inspections[0]?.readings).not.toEqual(plan.inspections[0]?.readings);
  });

  it.each([0, 3, 23])("keeps the past in the past at %i o'clock", (hour) => {
    const now = Date.UTC(2026, 5, 21, hour, 5);
    const other = createDemoPlan(1, now);
    expect(other.inspections.at(-1)?.measuredAt).toBeLessThanOrEqual(now);
    const times = other.inspections.map(({ measuredAt }) => measuredAt);
    expect(times).toEqual([...times].sort((a, b) => a - b));
  });
});
