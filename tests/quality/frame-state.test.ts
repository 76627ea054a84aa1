import { describe, expect, it } from "vitest";
import {
  FRAME_ACTS,
  FRAME_STATES,
  GONE_STATES,
  isState,
  mayMove,
  OPEN_STATES,
  SETTLED_STATES,
  STATE_AFTER_DECISION,
  stateAfterGivingUp,
  stateAfterInspection,
  stateAfterJudgingAgain,
  stateAfterShipping,
  stateAfterStart,
  stateByWhatIsLeft,
  type FrameAct,
  type FrameState,
} from "@/lib/quality/frame-state";
import { shipAnswer } from "@/lib/quality/ship-answer";

const BOTH = [false, true];
const acts = Object.keys(FRAME_ACTS) as FrameAct[];
const decisions = Object.keys(STATE_AFTER_DECISION) as (keyof typeof STATE_AFTER_DECISION)[];
const movesOf = (act: FrameAct): Partial<Record<FrameState, readonly FrameState[]>> => FRAME_ACTS[act].moves;

/** Each act of the program, by the function that its command calls, with every fact that it looks at. */
const REACHED: Readonly<Record<string, (state: FrameState) => readonly FrameState[]>> = {
  start: (state) => (mayMove("start", state) ? [stateAfterStart(state)] : []),
  give_up: (state) => [stateAfterGivingUp(state)],
  record: (state) => BOTH.flatMap((holds) => BOTH.map((isPast) => stateAfterInspection(state, { holds, isPast }))),
  withdraw: (state) => left("withdraw", state),
  resolve: (state) => left("resolve", state),
  judge_again: (state) =>
    BOTH.flatMap((byDoubt) => BOTH.map((isFree) => stateAfterJudgingAgain(state, { byDoubt, isFree }))),
  ship: (state) => (mayMove("ship", state) ? [stateAfterShipping(state)] : []),
  ...Object.fromEntries(
    decisions.map((decision) => [
      decision,
      (state: FrameState) => (mayMove(decision, state) ? [STATE_AFTER_DECISION[decision]] : []),
    ]),
  ),
};

function left(act: "withdraw" | "resolve", state: FrameState): FrameState[] {
  return BOTH.flatMap((isMeasured) =>
    BOTH.flatMap((holds) =>
      BOTH.map((isLeased) => stateByWhatIsLeft(act, state, { isMeasured, holds: holds && isMeasured, isLeased })),
    ),
  );
}

describe("states of a frame", () => {
  it("are open or settled, each one of them", () => {
    expect([...OPEN_STATES, ...SETTLED_STATES].sort()).toEqual([...FRAME_STATES].sort());
    expect(SETTLED_STATES).toEqual(expect.arrayContaining([...GONE_STATES]));
  });

  it("change by every command as the table says, and the table lists nothing that no command does", () => {
    expect(Object.keys(REACHED).sort()).toEqual([...acts].sort());
    const found = acts.map((act) => [
      act,
      Object.fromEntries(
        FRAME_STATES.flatMap((state) => {
          const to = [...new Set(REACHED[act]?.(state))].sort();
          return to.length === 0 ? [] : [[state, to]];
        }),
      ),
    ]);
    const listed = acts.map((act) => [
      act,
      Object.fromEntries(Object.entries(movesOf(act)).map(([state, to]) => [state, [...new Set(to)].sort()])),
    ]);
    expect(found).toEqual(listed);
  });

  // Gate: nothing ships twice, and what was scrapped or sent back is decided once
  it("are the last ones once a frame is gone: no reading, doubt or decision brings it back", () => {
    for (const act of acts)
      for (const state of GONE_STATES) {
        const to = movesOf(act)[state] ?? [];
        expect({ act, state, to: to.filter((one) => one !== state) }).toEqual({ act, state, to: [] });
      }
    for (const decision of decisions) for (const state of GONE_STATES) expect(mayMove(decision, state)).toBe(false);
  });

  // What the plant is promised: bad evidence holds; only a signature lets a held frame pass as it is
  it("let a held frame pass by a signature, by good readings, or where the doubt went away; never at the dock", () => {
    const ways = acts.filter((act) => movesOf(act).held?.some((to) => to !== "held"));
    expect(ways).toEqual([
      "record",
      "withdraw",
      "resolve",
      "judge_again",
      "release",
      "rework",
      "repair",
      "regrade",
      "concession",
      "scrap",
      "return_to_supplier",
    ]);
    expect(mayMove("ship", "held")).toBe(false);
    expect(mayMove("ship", "in_rework")).toBe(false);
  });

  it("let the dock say go only where the table lets a frame ship", () => {
    const batch = {
      key: "B-1",
      heldAt: null,
      frames: 10,
      asked: 5,
      missing: 0,
      isDrawn: true,
      measured: 5,
      found: 0,
      isRiskTaken: false,
      capability: [],
      lot: null,
      isPlanKept: true,
    };
    for (const bySample of BOTH)
      for (const state of FRAME_STATES) {
        const frame = {
          serial: "F-1",
          state,
          verdict: null,
          leaseDeviceId: null,
          concessionUntil: null,
          shippedAt: null,
          reasons: [],
        };
        const { answer } = shipAnswer("F-1", frame, { ...batch, bySample }, new Date(0));
        if (answer === "go") expect({ state, may: mayMove("ship", state) }).toEqual({ state, may: true });
        if (!isState(state, ["unmeasured", "in_measurement"]))
          expect({ state, answer }).toEqual({ state, answer: mayMove("ship", state) ? "go" : "stop" });
      }
  });

  it("refuse what the table does not list", () => {
    expect(() => stateAfterShipping("held")).toThrow("ship must not lead from held to shipped");
    expect(() => stateAfterStart("shipped")).toThrow("start must not lead from shipped");
  });
});
