import type { CaseLine, EventKind, LabelName } from "./case";

/** The value of a label at each frame, and the places at which it changes. */
export type LabelCourse = {
  /** False where no frame up to the end names it. */
  readonly isKnown: boolean;
  readonly at: (place: number) => string | null;
  readonly changes: readonly number[];
};

/** How a label goes along the frames of a line up to a place. */
export function labelCourse(line: CaseLine, label: LabelName, last: number): LabelCourse {
  const at = (place: number): string | null => line.frames[place]?.labels[label] ?? null;
  const changes: number[] = [];
  let before: string | null = null;
  for (let place = 0; place <= last; place++) {
    const value = at(place);
    if (value === null) continue;
    if (before !== null && value !== before) changes.push(place);
    before = value;
  }
  return { isKnown: before !== null, at, changes };
}

/** Places at which something of a kind happened: events that were written down, and changes of the label that shows it. */
export function eventPlaces(
  line: CaseLine,
  kind: EventKind | null,
  course: LabelCourse | null,
  last: number,
): number[] {
  const written = line.events.filter((event) => event.kind === kind && event.place <= last).map(({ place }) => place);
  return [...new Set([...written, ...(course?.changes ?? [])])].sort((a, b) => a - b);
}
