import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import type { JudgingDoubt } from "./judging-doubt";

/** A frame that was measured at another line's station, and nobody said that it was the right one. */
export type MeasuredElsewhere = {
  /** Keys of the station and of its line. */
  readonly station: string;
  readonly line: string;
  /** Key of the line of the frame's batch. */
  readonly frameLine: string;
};

const SEATS: readonly (Seat | null)[] = [null, "ds", "nds"];

/**
 * Doubts about the readings of a frame that was measured where frames of another line are: until somebody says that it was the
 * right one, nobody knows whose readings they are, and they do not prove that it is good. A failure stays one: a signature that says
 * it was the right frame must not let it pass.
 */
export function otherLineDoubts(drawing: ShellDrawing, elsewhere: MeasuredElsewhere): JudgingDoubt[] {
  const { station, line, frameLine } = elsewhere;
  const reason = { code: "other-line", station, line, frameLine } as const;
  const names = new Set<CharacteristicName>(drawing.characteristics.map(({ name }) => name));
  return [...names].flatMap((name) =>
    SEATS.map((seat) => ({ name, seat, reason, alsoFailure: false, holds: true, code: "other-line" as const })),
  );
}
