/** Everything a frame can be to the plant, as the database names it. */
export const FRAME_STATES = [
  "unmeasured",
  "in_measurement",
  "measured",
  "held",
  "released",
  "in_rework",
  "on_concession",
  "regraded",
  "scrapped",
  "returned",
  "shipped",
] as const;
export type FrameState = (typeof FRAME_STATES)[number];

/** Nothing that counts was measured of it yet; somebody may be about to. */
export const UNMEASURED_STATES = ["unmeasured", "in_measurement"] as const;
/** To be measured: for the first time, or again after a rework. */
export const TO_MEASURE_STATES = [...UNMEASURED_STATES, "in_rework"] as const;
/** States that readings alone make, and that others take back. */
export const STATES_BY_READINGS = [...UNMEASURED_STATES, "measured", "held"] as const;
/** Somebody signed that it goes on as it is: a good new reading changes nothing. */
export const SIGNED_STATES = ["released", "on_concession", "regraded"] as const;
/** It has left the plant. */
export const LEFT_STATES = ["returned", "shipped"] as const;
/** It has left, or will not come back to the line: no reading changes that. */
export const GONE_STATES = ["scrapped", ...LEFT_STATES] as const;
/** A signed decision, or the truck, has taken it out of the evidence of its batch. */
export const SETTLED_STATES = [...SIGNED_STATES, ...GONE_STATES] as const;
/** Not settled: it speaks for its batch, and a decision about it may be due. */
export const OPEN_STATES = [...STATES_BY_READINGS, "in_rework"] as const;

/** Whether a state is one of a set. */
export function isState<S extends FrameState>(state: FrameState, set: readonly S[]): state is S {
  return (set as readonly FrameState[]).includes(state);
}

/** What changes a frame, signed decisions by the name of their disposition. */
export type FrameAct =
  | "start"
  | "give_up"
  | "record"
  | "withdraw"
  | "resolve"
  | "judge_again"
  | "ship"
  | "release"
  | "rework"
  | "repair"
  | "regrade"
  | "concession"
  | "scrap"
  | "return_to_supplier"
  | "measure_again";

type Moves = Readonly<Partial<Record<FrameState, readonly FrameState[]>>>;
type ActRow = {
  /** What somebody must be allowed; null: it follows from something else and nobody asks for it. */
  readonly may: string | null;
  /** States in which the act is taken, each with those that it may lead to. In the others it is refused. */
  readonly moves: Moves;
};

const from = (states: readonly FrameState[], to: readonly FrameState[]): Moves =>
  Object.fromEntries(states.map((state) => [state, to]));
const staying = (states: readonly FrameState[], also: readonly FrameState[] = []): Moves =>
  Object.fromEntries(states.map((state) => [state, [state, ...also.filter((one) => one !== state)]]));
/** A signed decision takes any frame that is not gone. */
const decided = (to: FrameState): Moves => from([...OPEN_STATES, ...SIGNED_STATES], [to]);

/** What is left of the evidence decides; what was signed falls where nothing is left of what it was signed on, a release sooner. */
const BY_WHAT_IS_LEFT: Moves = {
  ...staying(FRAME_STATES),
  ...from(STATES_BY_READINGS, STATES_BY_READINGS),
  ...staying(SIGNED_STATES, UNMEASURED_STATES),
  released: ["released", ...UNMEASURED_STATES, "held"],
};

/** Every transition of a frame, with who may make it. */
export const FRAME_ACTS = {
  start: {
    may: "line.lease",
    moves: { ...staying(FRAME_STATES.filter((state) => state !== "shipped")), unmeasured: ["in_measurement"] },
  },
  give_up: { may: "line.lease", moves: { ...staying(FRAME_STATES), in_measurement: ["unmeasured"] } },
  // A frame stays what it is where the inspection is from before its rework.
  record: {
    may: "line.inspect",
    moves: {
      ...staying(GONE_STATES),
      ...staying(SIGNED_STATES, ["held"]),
      ...staying(OPEN_STATES, ["measured", "held"]),
    },
  },
  withdraw: { may: "line.withdraw", moves: BY_WHAT_IS_LEFT },
  resolve: { may: "gate.decide", moves: BY_WHAT_IS_LEFT },
  judge_again: {
    may: null,
    moves: {
      ...staying([...GONE_STATES, "in_rework"]),
      ...staying([...UNMEASURED_STATES, "measured", ...SIGNED_STATES], ["held"]),
      held: ["held", "measured"],
    },
  },
  ship: { may: "gate.ship", moves: from([...UNMEASURED_STATES, "measured", ...SIGNED_STATES], ["shipped"]) },
  release: { may: "gate.decide", moves: decided("released") },
  rework: { may: "gate.decide", moves: decided("in_rework") },
  repair: { may: "gate.decide", moves: decided("in_rework") },
  regrade: { may: "gate.decide", moves: decided("regraded") },
  concession: { may: "gate.concede", moves: decided("on_concession") },
  scrap: { may: "gate.decide", moves: decided("scrapped") },
  return_to_supplier: { may: "gate.decide", moves: decided("returned") },
  measure_again: { may: "gate.decide", moves: decided("held") },
} as const satisfies Record<FrameAct, ActRow>;

const movesOf = (act: FrameAct, state: FrameState): readonly FrameState[] | undefined => {
  const { moves }: ActRow = FRAME_ACTS[act];
  return moves[state];
};

/** Whether an act is taken in a state. */
export function mayMove(act: FrameAct, state: FrameState): boolean {
  return movesOf(act, state) !== undefined;
}

/**
 * The state that an act leads to, held against the table: what it does not list is a fault of the program.
 * @throws Error
 */
function moved(act: FrameAct, state: FrameState, to: FrameState): FrameState {
  if (movesOf(act, state)?.includes(to) !== true)
    throw new Error(`moved: ${act} must not lead from ${state} to ${to}; see FRAME_ACTS`);
  return to;
}

/** Measuring begins. */
export function stateAfterStart(state: FrameState): FrameState {
  return moved("start", state, state === "unmeasured" ? "in_measurement" : state);
}

/** Measuring is given up without a result: inspections that a frame has then are from before its rework, and say nothing. */
export function stateAfterGivingUp(state: FrameState): FrameState {
  return moved("give_up", state, state === "in_measurement" ? "unmeasured" : state);
}

/**
 * An inspection arrives.
 * @param holds - all that counts of the frame, judged together, is against letting it pass
 * @param isPast - it was measured before the frame's rework
 */
export function stateAfterInspection(
  state: FrameState,
  { holds, isPast }: { readonly holds: boolean; readonly isPast: boolean },
): FrameState {
  if (isPast || isState(state, GONE_STATES)) return moved("record", state, state);
  if (holds) return moved("record", state, "held");
  return moved("record", state, isState(state, SIGNED_STATES) ? state : "measured");
}

/** What is left of the inspections of a frame after some were taken out. */
export type LeftOfFrame = {
  /** Something is left that counts. */
  readonly isMeasured: boolean;
  readonly holds: boolean;
  /** A device is about to measure it. */
  readonly isLeased: boolean;
};

/**
 * Other inspections count than before: what is left decides; a frame that left the plant stays gone. What was signed was signed on
 * the evidence: where nothing is left of it the frame is to be measured, as it may have been another frame's. A release falls, too,
 * where what is left is against the frame; a concession and a regrade were signed against it.
 */
export function stateByWhatIsLeft(
  act: "withdraw" | "resolve",
  state: FrameState,
  { isMeasured, holds, isLeased }: LeftOfFrame,
): FrameState {
  const isUndone = isState(state, SIGNED_STATES) && (!isMeasured || (state === "released" && holds));
  if (!isState(state, STATES_BY_READINGS) && !isUndone) return moved(act, state, state);
  if (!isMeasured) return moved(act, state, isLeased ? "in_measurement" : "unmeasured");
  return moved(act, state, holds ? "held" : "measured");
}

/**
 * Judged again, since something that was believed of its gauges no longer holds: a frame whose evidence the doubt takes away is
 * held, whoever released it before, as the release rested on that evidence.
 * @param isFree - the doubt went away, and nothing else is against the frame
 */
export function stateAfterJudgingAgain(
  state: FrameState,
  { byDoubt, isFree }: { readonly byDoubt: boolean; readonly isFree: boolean },
): FrameState {
  if (isState(state, [...GONE_STATES, "in_rework"])) return moved("judge_again", state, state);
  if (byDoubt) return moved("judge_again", state, "held");
  return moved("judge_again", state, state === "held" && isFree ? "measured" : state);
}

/** The dock lets it go. */
export function stateAfterShipping(state: FrameState): FrameState {
  return moved("ship", state, "shipped");
}

/** What a signed decision makes of a frame that it takes. */
export const STATE_AFTER_DECISION = {
  release: "released",
  rework: "in_rework",
  repair: "in_rework",
  regrade: "regraded",
  concession: "on_concession",
  scrap: "scrapped",
  return_to_supplier: "returned",
  measure_again: "held",
} as const satisfies Partial<Record<FrameAct, FrameState>>;
