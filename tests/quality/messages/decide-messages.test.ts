import { describe, expect, it } from "vitest";
import {
  decideMessages,
  STORM_EVENTS,
  STORM_MINUTES,
  type DecidingGrounds,
  type EarlierMessage,
} from "@/lib/quality/messages/decide-messages";
import { dueTime, type PlantClock } from "@/lib/quality/messages/due-time";
import type { EventKind, PlantEvent } from "@/lib/quality/messages/event-kinds";
import { DEFAULT_SUBSCRIPTIONS, type Subscription } from "@/lib/quality/messages/subscription";

// Expected values: by hand from the sentences of the titles.

const DAY = 86_400_000;
const MINUTE = 60_000;
const at = (hours: number, minutes = 0): number => (hours * 60 + minutes) * MINUTE;

/** A plant whose clock shows UTC, shifts at 6:00 and 14:00. */
const clockAt = (nowMs: number): PlantClock => ({
  nowMs,
  minutesAt: (ms) => Math.floor(ms / MINUTE) % 1440,
  next: (minutes, fromMs) => {
    const today = Math.floor(fromMs / DAY) * DAY + minutes * MINUTE;
    return today >= fromMs ? today : today + DAY;
  },
  shiftStarts: [360, 840],
});

const ENGINEER = { personId: "engineer", roles: ["engineer"], hasMail: true };
const MANAGER = { personId: "manager", roles: ["supplier_manager"], hasMail: true };
const BADGE = { personId: "badge", roles: ["engineer"], hasMail: false };

const event = (id: string, kind: EventKind = "batch.held", lineId: string | null = "L1"): PlantEvent => ({
  id,
  kind,
  subject: `batch:${id}`,
  lineId,
  atMs: at(10),
});

const grounds = (change: Partial<DecidingGrounds> = {}): DecidingGrounds => ({
  subscriptions: DEFAULT_SUBSCRIPTIONS,
  readers: [ENGINEER, MANAGER, BADGE],
  earlier: [],
  clock: clockAt(at(10)),
  mailIsSetUp: true,
  ...change,
});

const subscription = (change: Partial<Subscription>): Subscription => ({
  whom: { role: "engineer" },
  kinds: ["batch.held"],
  lineId: null,
  channel: "mail",
  timing: "at once",
  quiet: null,
  ...change,
});

describe("who is told", () => {
  it("is, of a held batch, the engineers and supplier managers, in the application and at once by mail", () => {
    expect(decideMessages([event("a")], grounds())).toEqual([
      {
        kind: "batch.held",
        events: [event("a")],
        joins: null,
        isStorm: false,
        audience: { roles: ["engineer", "supplier_manager"], personIds: [] },
        mails: [
          { personId: "engineer", dueMs: at(10) },
          { personId: "manager", dueMs: at(10) },
        ],
      },
    ]);
  });

  it("is nobody by mail without a mail server, and nobody at all of what nobody wants", () => {
    expect(decideMessages([event("a")], grounds({ mailIsSetUp: false }))[0]?.mails).toEqual([]);
    expect(decideMessages([event("a")], grounds({ subscriptions: [] }))).toEqual([]);
  });

  it("is one person once, at the earliest moment, by however many subscriptions", () => {
    const subscriptions = [
      subscription({ timing: "shift start" }),
      subscription({ whom: { personId: "engineer" } }),
      subscription({}),
    ];
    expect(decideMessages([event("a")], grounds({ subscriptions }))).toMatchObject([
      { audience: { roles: ["engineer"], personIds: ["engineer"] }, mails: [{ personId: "engineer", dueMs: at(10) }] },
    ]);
  });

  it("is who wants the line; what belongs to no line is for all of them", () => {
    const subscriptions = [subscription({ lineId: "L2" })];
    expect(decideMessages([event("a")], grounds({ subscriptions }))).toEqual([]);
    expect(decideMessages([event("a", "batch.held", "L2")], grounds({ subscriptions }))).toHaveLength(1);
    expect(decideMessages([event("a", "batch.held", null)], grounds({ subscriptions }))).toHaveLength(1);
  });
});

describe("a storm", () => {
  const many = Array.from({ length: STORM_EVENTS + 1 }, (_, place) => event(String(place)));

  it("begins with more events of a kind than are told one by one, and is one message", () => {
    expect(decideMessages(many.slice(1), grounds())).toHaveLength(STORM_EVENTS);
    expect(decideMessages(many, grounds())).toMatchObject([{ isStorm: true, joins: null, events: many }]);
  });

  it("counts what was told within the minutes before, and nothing older", () => {
    const earlier = (minutesAgo: number): EarlierMessage => ({
      id: `m${minutesAgo}`,
      kind: "batch.held",
      isStorm: false,
      acknowledged: false,
      events: 1,
      latestMs: at(10) - minutesAgo * MINUTE,
    });
    const recent = [earlier(1), earlier(2), earlier(STORM_MINUTES - 1)];
    expect(decideMessages([event("a")], grounds({ earlier: recent }))).toMatchObject([{ isStorm: true }]);
    const old = [earlier(1), earlier(2), earlier(STORM_MINUTES)];
    expect(decideMessages([event("a")], grounds({ earlier: old }))).toMatchObject([{ isStorm: false }]);
    expect(decideMessages([event("a", "escape.opened")], grounds({ earlier: recent }))).toMatchObject([
      { isStorm: false },
    ]);
  });

  it("that goes on is joined, until it is acknowledged or was quiet", () => {
    const storm: EarlierMessage = {
      id: "storm",
      kind: "batch.held",
      isStorm: true,
      acknowledged: false,
      events: 9,
      latestMs: at(9, 55),
    };
    const joined = (change: Partial<EarlierMessage>) =>
      decideMessages([event("a")], grounds({ earlier: [{ ...storm, ...change }] }))[0]?.joins;
    expect(joined({})).toBe("storm");
    expect(joined({ acknowledged: true })).toBeNull();
    expect(joined({ latestMs: at(9, 50) })).toBeNull();
  });

  it("of one kind leaves another kind alone", () => {
    const decided = decideMessages([...many, event("e", "escape.opened")], grounds());
    expect(decided.map(({ kind, isStorm }) => [kind, isStorm])).toEqual([
      ["batch.held", true],
      ["escape.opened", false],
    ]);
  });
});

describe("when a mail goes", () => {
  const night = { from: 22 * 60, until: 6 * 60 };
  it.each([
    ["at once", subscription({}), at(10), at(10)],
    ["with the next shift", subscription({ timing: "shift start" }), at(10), at(14)],
    ["with the first shift of tomorrow", subscription({ timing: "shift start" }), at(15), DAY + at(6)],
    ["at the start of a shift, with it", subscription({ timing: "shift start" }), at(14), at(14)],
    ["before the quiet hours, at once", subscription({ quiet: night }), at(21, 59), at(21, 59)],
    ["in quiet hours before midnight, after them", subscription({ quiet: night }), at(22), DAY + at(6)],
    ["in quiet hours after midnight, after them", subscription({ quiet: night }), at(3), at(6)],
    ["as quiet hours end, at once", subscription({ quiet: night }), at(6), at(6)],
    [
      "with a shift within quiet hours, after them",
      subscription({ timing: "shift start", quiet: { from: 300, until: 480 } }),
      at(5, 30),
      at(8),
    ],
    ["with quiet hours of no length, at once", subscription({ quiet: { from: 600, until: 600 } }), at(10), at(10)],
  ])("%s", (_, one, now, due) => {
    expect(dueTime(one, clockAt(now))).toBe(due);
  });
});
