import path from "node:path";

/**
 * Where backups lie that were given no place: SHELLGATE_BACKUPS, else a folder beside the plant's, since one in it would go with it.
 *
 * @param folder - of the plant, absolute
 */
export function backupFolder(folder: string): string {
  const named = process.env.SHELLGATE_BACKUPS ?? "";
  return named === "" ? `${folder}-backups` : path.resolve(named);
}

/** @param at - the moment, in UTC so that names are in the order of time */
export function backupName(at: Date): string {
  return `shellgate-${at
    .toISOString()
    .replace(/\.\d+Z$/, "Z")
    .replaceAll(/[-:]/g, "")}.backup`;
}
