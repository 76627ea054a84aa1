import { formatFixed, withUnit } from "./number-text";

/** A size of a file or disk: "840 kB", "3.2 MB", "1.4 GB" (powers of ten, as disks are sold). */
export function formatBytes(bytes: number): string {
  if (bytes < 1e6) return withUnit(formatFixed(bytes / 1e3, 0), "kB");
  if (bytes < 1e9) return withUnit(formatFixed(bytes / 1e6, 1), "MB");
  return withUnit(formatFixed(bytes / 1e9, 1), "GB");
}
