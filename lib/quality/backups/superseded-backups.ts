/** A backup that is there, with the plant's day on which it was asked for, as YYYY-MM-DD. */
export type KeptBackup = { readonly number: number; readonly day: string };

/** How many are kept: of all, of the last weeks and of the last months that have one. */
export type BackupRotation = { readonly newest: number; readonly weeks: number; readonly months: number };

const DAY_MS = 86_400_000;

/** Days since 1970 of the Monday of a day's week. */
function weekOf(day: string): number {
  const days = Math.floor(Date.parse(`${day}T00:00:00Z`) / DAY_MS);
  // 1970-01-01 was a Thursday.
  return days - ((((days + 3) % 7) + 7) % 7);
}

/** The newest of each of the last groups. */
function newestOfEach(
  backups: readonly KeptBackup[],
  groupOf: (day: string) => string | number,
  groups: number,
): number[] {
  const found = new Map<string | number, number>();
  for (const { number, day } of backups) {
    const group = groupOf(day);
    if (!found.has(group) && found.size < groups) found.set(group, number);
  }
  return [...found.values()];
}

/**
 * Which backups newer ones take the place of. Their order is that of their numbers: a clock that jumps puts days in disorder, and removes
 * nothing that would have been kept for its number. The newest is always kept.
 *
 * @returns their numbers
 */
export function supersededBackups(backups: readonly KeptBackup[], rotation: BackupRotation): readonly number[] {
  const newestFirst = backups.toSorted((a, b) => b.number - a.number);
  const kept = new Set([
    ...newestFirst.slice(0, Math.max(1, rotation.newest)).map(({ number }) => number),
    ...newestOfEach(newestFirst, weekOf, rotation.weeks),
    ...newestOfEach(newestFirst, (day) => day.slice(0, 7), rotation.months),
  ]);
  return newestFirst.map(({ number }) => number).filter((number) => !kept.has(number));
}
