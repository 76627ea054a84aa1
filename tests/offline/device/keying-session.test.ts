import { describe, expect, it } from "vitest";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import {
  isComplete,
  keyedUnit,
  keyedValues,
  type KeyingEvent,
  type KeyingPlan,
  type KeyingSession,
  startKeying,
  stepKeying,
  toInspection,
} from "@/lib/offline/device/keying-session";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { recordInspectionSchema } from "@/lib/schemas/inspection";

const ID = "01920000-0000-7000-8000-000000000001";
const STATION = "01920000-0000-7000-8000-000000000002";
const REVISION = "01920000-0000-7000-8000-000000000003";

function planOf(names: readonly ReadingName[], change: Partial<KeyingPlan> = {}): KeyingPlan {
  return {
    drawing: PRESS_FIT_41,
    names,
    ringMm: null,
    smallUnit: "µm",
    gauges: { bore: "BG-1" },
    inspector: "D2",
    ...change,
  };
}

function start(plan: KeyingPlan): KeyingSession {
  return startKeying(
    {
      id: ID,
      serial: "F-1",
      batch: "B-1",
      stationId: STATION,
      planRevisionId: REVISION,
      startedAt: 1_760_000_001_000,
      reason: null,
    },
    plan,
  );
}

const entered = (text: string, offsetMs = 100): KeyingEvent => ({ type: "enter", text, offsetMs });

function run(plan: KeyingPlan, session: KeyingSession, ...events: readonly KeyingEvent[]): KeyingSession {
  return events.reduce((now, event) => stepKeying(plan, now, event), session);
}

const valueFor = (name: ReadingName): string =>
  name.kind === "bore" ? "40.975" : name.kind === "width" ? "86.5" : "0";

const finish = { finishedAt: 1_760_000_061_000, clockSkewMs: 12.4, deviceId: "dev-1", inspectorCode: "D2" };

describe("keying a plan", () => {
  it.each([
    ["full", fullPlan(PRESS_FIT_41), 44],
    ["routine", routinePlan(PRESS_FIT_41), 28],
  ])("takes the %s plan by its numbers and one Enter each, in the plan's order", (_, names, count) => {
    const plan = planOf(names);
    let session = start(plan);
    let enters = 0;
    for (const [at, name] of names.entries()) {
      expect(session.asked).toBe(at);
      session = stepKeying(plan, session, entered(valueFor(name), at * 1000));
      enters += 1;
    }
    expect(enters).toBe(count);
    expect(isComplete(session)).toBe(true);
    expect(keyedValues(session)).toEqual(names.map((name) => Number(valueFor(name))));
  });

  it("makes an inspection that the server's schema takes", () => {
    const plan = planOf(routinePlan(PRESS_FIT_41));
    const session = run(plan, start(plan), ...plan.names.map((name, at) => entered(valueFor(name), at)));
    const sent = toInspection(session, plan, finish);
    expect(recordInspectionSchema.parse(sent)).toEqual(sent);
    expect(sent).toMatchObject({ clockSkewMs: 12, deviceTime: "2025-10-09T08:54:21.000Z", inspectorCode: "D2" });
    expect(sent.gauges?.slice(0, 13)).toEqual([...Array<string>(12).fill("BG-1"), null]);
  });

  it("takes a comma and a unit as gauges send them", () => {
    const plan = planOf(routinePlan(PRESS_FIT_41));
    const session = run(plan, start(plan), entered("40,981"), entered("40.979 mm"));
    expect(keyedValues(session).slice(0, 2)).toEqual([40.981, 40.979]);
  });

  it("keeps the place and says why when the text is no number", () => {
    const plan = planOf(routinePlan(PRESS_FIT_41));
    const session = run(plan, start(plan), entered("40.9.8"));
    expect(session).toMatchObject({ asked: 0, refusal: expect.stringContaining("more than one decimal sign") });
  });
});

describe("questions", () => {
  const plan = planOf(routinePlan(PRESS_FIT_41));

  it("asks about a missing decimal sign and keeps both values", () => {
    const asked = run(plan, start(plan), entered("4098", 50));
    expect(asked.question).toMatchObject({ value: 4098, question: { slip: { value: 40.98 } } });
    expect(asked.asked).toBe(0);
    const answered = stepKeying(plan, asked, { type: "yes", offsetMs: 60 });
    expect(answered.readings[0]).toMatchObject({ value: 40.98, state: "measured" });
    expect(answered.superseded).toMatchObject([
      { index: 0, value: 4098, reason: expect.stringContaining("decimal sign"), offsetMs: 50 },
    ]);
    expect(answered.asked).toBe(1);
  });

  it("offers 40.975 for 975, and never keeps what cannot be", () => {
    const asked = run(plan, start(plan), entered("975"));
    expect(asked.question?.question).toMatchObject({
      severity: "impossible",
      side: "large",
      slip: { kind: "decimals only", value: 40.975 },
    });
    expect(stepKeying(plan, asked, { type: "as keyed", offsetMs: 5 })).toBe(asked);
    expect(run(plan, asked, { type: "yes", offsetMs: 5 }).readings[0]).toMatchObject({ value: 40.975 });
    const without = run(plan, start(plan), entered("43.5"), { type: "yes", offsetMs: 5 });
    expect(without).toMatchObject({ asked: 0, question: null, superseded: [{ value: 43.5 }] });
    expect(without.readings[0]).toBeNull();
  });

  it("goes by the range of the gauge in hand", () => {
    const gauge = {
      key: "BG-1",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
      range: { lower: 40.9, upper: 41.1 },
    };
    const ranged = planOf(routinePlan(PRESS_FIT_41), { known: { bore: gauge } });
    const { question } = run(ranged, start(ranged), entered("41.2"));
    expect(question?.question).toMatchObject({ severity: "impossible", side: "large" });
    expect(question?.question.text).toContain("beyond what gauge BG-1 can show, 40.9 to 41.1 mm");
  });

  it("keys a bore off the scale: a verdict without a value", () => {
    const session = run(plan, start(plan), entered("975", 50), { type: "off scale", side: "large", offsetMs: 60 });
    expect(session.readings[0]).toMatchObject({ value: null, state: "off-scale-large" });
    expect(session.superseded).toMatchObject([
      { index: 0, value: 975, reason: expect.stringContaining("off its scale") },
    ]);
    expect(session.asked).toBe(1);
    const small = run(plan, start(plan), { type: "off scale", side: "small", offsetMs: 60 });
    expect(small.readings[0]).toMatchObject({ state: "off-scale-small" });
    const rest = run(plan, small, ...plan.names.slice(1).map((name) => entered(valueFor(name))));
    const sent = toInspection(rest, plan, finish);
    expect(recordInspectionSchema.parse(sent)).toEqual(sent);
    expect([sent.readings[0], sent.states?.[0]]).toEqual([null, "off-scale-small"]);
    // A sweep is not off the scale: its needle is at its stop.
    const swept = plan.names.findIndex((name) => name.kind === "sweep");
    const there = run(plan, start(plan), { type: "jump", index: swept });
    expect(stepKeying(plan, there, { type: "off scale", side: "large", offsetMs: 1 })).toBe(there);
  });

  it("asks about a sweep whose needle stood at its stop, as soon as it is all there", () => {
    const first = plan.names.findIndex((name) => name.kind === "sweep");
    const places = plan.names.flatMap((name, at) => {
      const own = plan.names[first];
      const isSame = name.kind === "sweep" && own?.kind === "sweep" && name.depthMm === own.depthMm;
      return isSame && name.seat === own.seat ? [at] : [];
    });
    const gauge = {
      key: "SI-1",
      kind: "sweep",
      principle: "indicator",
      resolutionUm: 1,
      range: { lower: -80, upper: 80 },
    };
    const ranged = planOf(plan.names, { known: { sweep: gauge } });
    const until = plan.names.slice(0, (places.at(-1) ?? 0) + 1);
    const swept = (at: number) => (at === places[1] ? "80" : "10");
    const asked = run(
      ranged,
      start(ranged),
      ...until.map((name, at) => entered(at < first ? valueFor(name) : swept(at))),
    );
    expect(asked.question).toMatchObject({ index: first, kept: true, question: { severity: "clipped" } });
    // What a gauge sends meanwhile is not taken for one of its readings.
    expect(run(ranged, asked, entered("12"))).toMatchObject({ refusal: expect.stringContaining("was not taken") });
    const again = run(ranged, asked, { type: "yes", offsetMs: 9 });
    expect(again).toMatchObject({ asked: first, question: null });
    expect(places.map((at) => again.readings[at])).toEqual(places.map(() => null));
    expect(again.superseded).toHaveLength(places.length);
    const left = run(ranged, asked, { type: "as keyed", offsetMs: 9 });
    expect(left.question).toBeNull();
    expect(left.readings[places[1] ?? 0]).toMatchObject({ value: 80, state: "measured" });
  });

  it("takes an unlikely value only when somebody says so: Enter, Enter does not", () => {
    const entersTwice = run(plan, start(plan), entered("41.3"), { type: "yes", offsetMs: 60 });
    expect(entersTwice).toMatchObject({ asked: 0, question: null, superseded: [{ value: 41.3 }] });
    expect(entersTwice.readings[0]).toBeNull();
    const session = run(plan, start(plan), entered("41.3"), { type: "as keyed", offsetMs: 60 });
    expect(session.readings[0]).toMatchObject({ value: 41.3, state: "confirmed" });
    expect(session.question).toBeNull();
    const rest = run(plan, session, ...plan.names.slice(1).map((name) => entered(valueFor(name))));
    expect(isComplete(rest)).toBe(true);
  });

  it("takes a new number for the answer no, and keeps the questioned one in the record", () => {
    const session = run(plan, start(plan), entered("419", 50), entered("40.98", 90));
    expect(session.readings[0]).toMatchObject({ value: 40.98, offsetMs: 90 });
    expect(session.superseded).toMatchObject([{ index: 0, value: 419, reason: expect.any(String), offsetMs: 50 }]);
  });

  it("asks at the end about the first reading of a sweep that only the others show to be wrong", () => {
    const firstSweep = plan.names.findIndex((name) => name.kind === "sweep");
    const session = run(
      plan,
      start(plan),
      ...plan.names.map((name, at) => entered(at === firstSweep ? "300" : valueFor(name))),
    );
    expect(session.question).toMatchObject({ index: firstSweep, value: 300, kept: true });
    expect(isComplete(session)).toBe(false);
    expect(isComplete(run(plan, session, { type: "as keyed", offsetMs: 1 }))).toBe(true);
    const anew = run(plan, session, entered("15"));
    expect(anew.readings[firstSweep]?.value).toBe(15);
    expect(anew.superseded.map(({ value }) => value)).toEqual([300]);
    expect(isComplete(anew)).toBe(true);
  });
});

describe("corrections", () => {
  const plan = planOf(routinePlan(PRESS_FIT_41));

  it("asks why, keeps the first value, and goes on where it was", () => {
    const session = run(plan, start(plan), entered("40.975", 10), entered("40.976", 20), { type: "jump", index: 0 });
    const waiting = stepKeying(plan, session, entered("40.971", 30));
    expect(waiting.readings[0]?.value).toBe(40.975);
    expect(waiting.correction).toMatchObject({ index: 0 });
    const corrected = stepKeying(plan, waiting, { type: "reason", reason: "keyed wrongly" });
    expect(corrected.readings[0]?.value).toBe(40.971);
    expect(corrected.superseded).toMatchObject([{ index: 0, value: 40.975, reason: "keyed wrongly", offsetMs: 10 }]);
    expect(corrected.asked).toBe(2);
  });

  it("counts nothing without a reason, and leaves the first value when it is taken back", () => {
    const waiting = run(plan, start(plan), entered("40.975"), { type: "back" }, entered("40.971"));
    expect(stepKeying(plan, waiting, { type: "reason", reason: "  " })).toBe(waiting);
    const back = stepKeying(plan, waiting, { type: "no" });
    expect(back).toMatchObject({ correction: null, superseded: [] });
    expect(back.readings[0]?.value).toBe(40.975);
  });

  it("records why a reading could not be taken, and the value that it had", () => {
    const session = run(
      plan,
      start(plan),
      entered("40.975", 10),
      { type: "back" },
      { type: "cannot", reason: "seat is damaged", offsetMs: 20 },
    );
    expect(session.readings[0]).toMatchObject({ value: null, state: "cannot", reason: "seat is damaged" });
    const sent = toInspection(session, plan, finish);
    const label = formatReadingName(plan.names[0] as ReadingName);
    expect(sent.attributes?.cannotReasons).toEqual({ [label]: "seat is damaged" });
    expect(sent.superseded).toHaveLength(1);
  });
});

describe("other ways of reading", () => {
  it("makes sizes of deviations from the setting ring", () => {
    const plan = planOf(routinePlan(PRESS_FIT_41), { ringMm: 40.975 });
    const session = run(plan, start(plan), entered("-7"), entered("+4"));
    expect(keyedValues(session).slice(0, 2)).toEqual([40.968, 40.979]);
  });

  it("takes the feel of a plug and the passage of the bar as words", () => {
    const plan = planOf([
      { kind: "plug", seat: "ds", sizeMm: 40.95 },
      { kind: "bar", set: "A" },
    ]);
    const session = run(
      plan,
      start(plan),
      { type: "word", word: "hand", index: 0, offsetMs: 5 },
      { type: "word", word: { result: "stiff", clockDeg: 120 }, index: 1, offsetMs: 9 },
    );
    expect(isComplete(session)).toBe(true);
    const sent = toInspection(session, plan, finish);
    expect(sent.attributes).toEqual({
      plugs: { "ds.plug.40.95": "hand" },
      bars: { "bar.A": { result: "stiff", clockDeg: 120 } },
    });
    expect(recordInspectionSchema.parse(sent)).toEqual(sent);
  });
});

describe("a word struck twice", () => {
  const names: ReadingName[] = [
    { kind: "plug", seat: "ds", sizeMm: 40.95 },
    { kind: "bar", set: "A" },
  ];
  const plan = planOf(names);

  it("answers the reading that was seen, and never the next one", () => {
    const slides: KeyingEvent = { type: "word", word: "slides", index: 0, offsetMs: 5 };
    const session = run(plan, start(plan), slides, { ...slides, word: "no" });
    expect(session).toMatchObject({ asked: 1, readings: [{ word: "slides" }, null], superseded: [] });
    expect(session.refusal).toMatch(/nothing was taken for this one/);
    const done = run(plan, session, { type: "word", word: { result: "free" }, index: 1, offsetMs: 9 });
    expect(done).toMatchObject({ refusal: null, readings: [{ word: "slides" }, { word: { result: "free" } }] });
  });

  it("does not take a number that was typed before the words were shown", () => {
    const session = run(plan, start(plan), entered("1"));
    expect(session).toMatchObject({ asked: 0, readings: [null, null] });
    expect(session.refusal).toMatch(/“1” is no answer to this reading/);
  });
});

describe("units", () => {
  it("takes indicators and deviations in mm where the gauges show mm", () => {
    const names: ReadingName[] = [
      { kind: "bore", seat: "ds", depthMm: 2, directionDeg: 0 },
      { kind: "sweep", seat: "nds", depthMm: 2, angleDeg: 0 },
      { kind: "width", clockDeg: 0 },
    ];
    const plan = planOf(names, { smallUnit: "mm", ringMm: 40.9752 });
    const session = run(plan, start(plan), entered("-0.0072"), entered("0,0125 mm"), entered("86.5"));
    expect(keyedValues(session)).toEqual([40.968, 12.5, 86.5]);
    expect(names.map((name) => keyedUnit(plan, name))).toEqual(["mm", "mm", "mm"]);
    expect(names.map((name) => keyedUnit({ ...plan, smallUnit: "µm" }, name))).toEqual(["µm", "µm", "mm"]);
  });
});

describe("who measured", () => {
  const names = routinePlan(PRESS_FIT_41);
  const early = planOf(names, { inspector: "D1" });
  const late = planOf(names, { inspector: "D2" });

  it("is one person, and then no reading says so", () => {
    const session = run(late, start(late), entered("4098"), { type: "yes", offsetMs: 1 }, entered("40.98"));
    const sent = toInspection(session, late, finish);
    expect(sent.attributes?.inspectors).toBeUndefined();
    expect(sent.superseded).toEqual([{ index: 0, value: 4098, reason: expect.any(String), offsetMs: 100 }]);
  });

  it("changes half way: earlier readings stay with who took them, a corrected one goes to who corrected it", () => {
    let session = run(early, start(early), ...names.slice(0, 6).map((name, at) => entered(valueFor(name), at)));
    session = run(
      late,
      session,
      { type: "jump", index: 2 },
      entered("40.970", 6),
      { type: "reason", reason: "keyed wrongly" },
      ...names.slice(6).map((name, at) => entered(valueFor(name), 7 + at)),
    );
    const sent = toInspection(session, late, finish);
    expect(recordInspectionSchema.parse(sent)).toEqual(sent);
    expect(sent.inspectorCode).toBe("D2");
    expect(sent.attributes?.inspectors).toEqual([
      { from: 0, code: "D1" },
      { from: 2, code: "D2" },
      { from: 3, code: "D1" },
      { from: 6, code: "D2" },
    ]);
    expect(sent.superseded).toMatchObject([{ index: 2, value: 40.975, by: "D1" }]);
  });
});

describe("a word that is corrected", () => {
  const names: ReadingName[] = [
    { kind: "plug", seat: "ds", sizeMm: 40.95 },
    { kind: "bore", seat: "ds", depthMm: 2, directionDeg: 0 },
  ];
  const plan = planOf(names);
  const word = (feel: "slides" | "hand"): KeyingEvent => ({ type: "word", word: feel, index: 0, offsetMs: 5 });

  it("waits for its reason, and the first word stays in the record", () => {
    const waiting = run(plan, start(plan), word("slides"), { type: "jump", index: 0 }, word("hand"));
    expect(waiting).toMatchObject({ correction: { index: 0 }, readings: [{ word: "slides" }, null] });
    const session = run(plan, waiting, { type: "reason", reason: "keyed wrongly" }, entered("40.975"));
    const sent = toInspection(session, plan, finish);
    expect(recordInspectionSchema.parse(sent)).toEqual(sent);
    expect(sent.attributes?.plugs).toEqual({ "ds.plug.40.95": "hand" });
    expect(sent.superseded).toEqual([{ index: 0, value: null, word: "slides", reason: "keyed wrongly", offsetMs: 5 }]);
  });

  it("keeps why a reading could not be taken, once it can", () => {
    const session = run(
      plan,
      start(plan),
      { type: "jump", index: 1 },
      { type: "cannot", reason: "burr in the way", offsetMs: 1 },
      { type: "jump", index: 1 },
      entered("40.975", 2),
      { type: "reason", reason: "burr taken off" },
    );
    expect(session.readings[1]).toMatchObject({ value: 40.975, state: "measured" });
    expect(session.superseded).toMatchObject([
      { index: 1, value: null, reason: "burr taken off (could not be taken: burr in the way)" },
    ]);
  });
});

describe("a size keyed where deviations from the ring are asked", () => {
  const names = routinePlan(PRESS_FIT_41);

  it.each(["µm", "mm"] as const)("is asked about and does not pass for a deviation in %s; both values stay", (unit) => {
    const plan = planOf(names, { ringMm: 40.9752, smallUnit: unit });
    const asked = run(plan, start(plan), entered("40,982", 100));
    expect(asked).toMatchObject({ asked: 0, readings: expect.arrayContaining([null]) });
    expect(asked.question?.question.slip).toEqual({
      kind: "a size, where deviations from the ring are keyed",
      value: 40.982,
    });
    const session = stepKeying(plan, asked, { type: "yes", offsetMs: 200 });
    expect(session.readings[0]).toMatchObject({ value: 40.982, state: "measured" });
    expect(session.superseded).toMatchObject([{ index: 0, reason: "keyed with a slip, asked and corrected" }]);
  });

  it("leaves deviations alone, also large ones that a gauge shows with one decimal", () => {
    const plan = planOf(names, { ringMm: 40.9752 });
    const session = run(plan, start(plan), entered("-7"), entered("40.9"), entered("+3,5"));
    expect(keyedValues(session).slice(0, 3)).toEqual([40.9682, 41.0161, 40.9787]);
  });
});

describe("an open question that is left without an answer", () => {
  const plan = planOf(routinePlan(PRESS_FIT_41));
  const texts = plan.names.map(valueFor);
  /** Every reading is there, the first of the sweep 900 µm off the others: it is asked about last of all. */
  const swept = plan.names.findIndex(({ kind }) => kind === "sweep");
  const atTheEnd = () =>
    run(plan, start(plan), ...texts.map((text, at) => entered(at === swept ? "900" : text, at * 1000)));

  it.each<[string, KeyingEvent]>([
    ["another reading is looked at", { type: "jump", index: 0 }],
    ["the one before is looked at", { type: "back" }],
    ["it is skipped", { type: "cannot", reason: "gauge does not reach", offsetMs: 3000 }],
  ])("keeps the value that was asked about where %s", (_, event) => {
    const session = run(plan, start(plan), entered("40.975"), entered("4098", 2000), event);
    expect(session.question).toBeNull();
    expect(session.superseded).toEqual([
      { index: 1, value: 4098, reason: "asked about and re-entered", offsetMs: 2000, by: "D2" },
    ]);
  });

  it("is asked again at the end: going on does not finish a frame with a value that nobody confirmed", () => {
    const asked = atTheEnd();
    expect(asked).toMatchObject({ asked: null, question: { index: swept, value: 900, kept: true } });
    const again = run(plan, asked, { type: "jump", index: 0 }, { type: "go on" });
    expect(again).toMatchObject({ asked: null, question: { index: swept, value: 900, kept: true } });
    expect(isComplete(again)).toBe(false);
    // 900 cannot be: nobody can confirm it.
    expect(isComplete(run(plan, again, { type: "as keyed", offsetMs: 99_000 }))).toBe(false);
    expect(isComplete(run(plan, again, entered(texts[swept] ?? "", 99_000)))).toBe(true);
  });

  it("can be skipped with a reason where the value stands already", () => {
    const session = run(plan, atTheEnd(), { type: "cannot", reason: "chips or dirt in the way", offsetMs: 99_000 });
    expect(session.readings[swept]).toMatchObject({ value: null, state: "cannot", reason: "chips or dirt in the way" });
    expect(session.superseded).toMatchObject([{ index: swept, value: 900, reason: "chips or dirt in the way" }]);
    expect(isComplete(session)).toBe(true);
  });
});

describe("a sweep that is not regular", () => {
  const plan = planOf(fullPlan(PRESS_FIT_41));
  const sweepAt = plan.names.findIndex(({ kind }) => kind === "sweep");
  /** Everything up to the end of the first sweep, in which the indicator slips by 40 µm half way. */
  const slipped = (): KeyingSession =>
    plan.names
      .slice(0, sweepAt + 8)
      .reduce(
        (now, name, at) => stepKeying(plan, now, entered(at >= sweepAt + 4 ? "40" : valueFor(name), at)),
        start(plan),
      );
  const first = Array.from({ length: 8 }, (_, at) => sweepAt + at);

  it("is asked about while the shell is on the stand, and taken again by one Enter; what was kept stays in the record", () => {
    const asked = slipped();
    expect(asked.again).toMatchObject({ of: "sweep", readings: first });
    expect(asked.again?.reason).toContain("sweep again");
    expect(stepKeying(plan, asked, entered("1"))).toMatchObject({
      refusal: "1 was not taken: answer first. Enter takes it again.",
    });
    const anew = stepKeying(plan, asked, { type: "yes", offsetMs: 9_000 });
    expect(anew).toMatchObject({ asked: sweepAt, again: null });
    expect(first.every((at) => anew.readings[at] === null)).toBe(true);
    expect(anew.superseded.map(({ index, value }) => [index, value])).toEqual(
      first.map((at) => [at, at >= sweepAt + 4 ? 40 : 0]),
    );
    const mended = run(plan, anew, ...first.map((at) => entered("0", at)));
    expect(mended).toMatchObject({ again: null, asked: sweepAt + 8 });
  });

  it("can be kept as it is, and is not asked about again", () => {
    const kept = stepKeying(plan, slipped(), { type: "as keyed", offsetMs: 9_000 });
    expect(kept).toMatchObject({ again: null, asked: sweepAt + 8 });
    expect(first.every((at) => kept.readings[at]?.state === "confirmed")).toBe(true);
  });

  it("holds the end of the frame until it is answered", () => {
    const rest = plan.names.slice(0, -4).reduce((now, name, at) => {
      const isLast = name.kind === "sweep" && name.depthMm === 8 && name.angleDeg >= 180;
      return stepKeying(plan, now, entered(isLast ? "40" : valueFor(name), at));
    }, start(plan));
    expect(rest.again).toMatchObject({ of: "sweep" });
    expect(isComplete(rest)).toBe(false);
  });

  it("asks for a diameter that the others of its seat reject", () => {
    const seat = plan.names
      .slice(0, 8)
      .reduce((now, _name, at) => stepKeying(plan, now, entered(at === 5 ? "40.935" : "40.975", at)), start(plan));
    expect(seat.again).toMatchObject({ of: "reading", readings: [5] });
  });
});

describe("the shell's temperature", () => {
  const measuring = { temperature: { fromC: 15, toC: 25, asked: true } };
  const plan = { ...planOf(routinePlan(PRESS_FIT_41)), measuring };

  it("is asked for after the readings where the plan says so, and goes with the inspection", () => {
    const done = run(plan, start(plan), ...plan.names.map((name, at) => entered(valueFor(name), at)));
    expect(isComplete(done, plan)).toBe(false);
    const wrong = stepKeying(plan, done, entered("99"));
    expect(wrong.refusal).toContain("between −20 and 60");
    const read = stepKeying(plan, wrong, entered("21,5"));
    expect(isComplete(read, plan)).toBe(true);
    expect(toInspection(read, plan, finish).attributes).toMatchObject({ temperatureC: 21.5 });
  });

  it("is not asked for elsewhere", () => {
    const usual = planOf(routinePlan(PRESS_FIT_41));
    const done = run(usual, start(usual), ...usual.names.map((name, at) => entered(valueFor(name), at)));
    expect(isComplete(done, usual)).toBe(true);
  });
});
