import { statSync } from "node:fs";
import { formatCount } from "@/lib/format/number-text";

const QUIET_MS = 1500;
const EVERY_MS = 1000;

/** Says on standard error how far a slow check is; a quick one stays silent. */
export function createProgress(file: string): {
  readonly at: (pass: 1 | 2, rows: number, bytes: number) => void;
  readonly end: () => void;
} {
  const started = performance.now();
  let next = started + QUIET_MS;
  let total: number | null = null;
  let said = false;

  function at(pass: 1 | 2, rows: number, bytes: number): void {
    const now = performance.now();
    if (now < next) return;
    next = now + EVERY_MS;
    total ??= statSync(file).size;
    const share = total > 0 ? Math.min(100, Math.floor((100 * bytes) / total)) : 100;
    const what = pass === 1 ? "reading" : "judging";
    process.stderr.write(
      `${process.stderr.isTTY ? "\r" : ""}${what}: ${formatCount(rows)} rows, ${share} % (pass ${pass} of 2)${process.stderr.isTTY ? "  " : "\n"}`,
    );
    said = true;
  }

  return { at, end: () => void (said && process.stderr.isTTY && process.stderr.write("\n")) };
}
