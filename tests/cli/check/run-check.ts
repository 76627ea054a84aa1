import { spawn } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";

export const ROOT = path.resolve(import.meta.dirname, "../../..");

export type CheckRun = {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
  readonly ms: number;
};

/** Runs the real command in a process of its own. */
export function runCheck(
  words: readonly string[],
  options: { readonly cwd?: string; readonly nodeFlags?: readonly string[] } = {},
): Promise<CheckRun> {
  return runProgram(
    process.execPath,
    [...(options.nodeFlags ?? []), path.join(ROOT, "lib/cli/run.mjs"), "lib/cli/check.ts", ...words],
    options.cwd ?? ROOT,
  );
}

export function runProgram(program: string, words: readonly string[], cwd: string): Promise<CheckRun> {
  const started = performance.now();
  const { INIT_CWD: _initCwd, ...env } = process.env;
  return new Promise((resolve, reject) => {
    const child = spawn(program, words, { cwd, env, stdio: ["ignore", "pipe", "pipe"] });
    let [out, err] = ["", ""];
    child.stdout.setEncoding("utf8").on("data", (text: string) => (out += text));
    child.stderr.setEncoding("utf8").on("data", (text: string) => (err += text));
    child.on("error", reject);
    child.on("close", (code) => resolve({ code, out, err, ms: performance.now() - started }));
  });
}

/** A folder of its own for the files of a test. */
export function testFolder(): {
  readonly path: (name: string) => string;
  readonly write: (name: string, text: string) => string;
  readonly remove: () => void;
} {
  const folder = mkdtempSync(path.join(os.tmpdir(), "check-"));
  return {
    path: (name) => path.join(folder, name),
    write(name, text) {
      writeFileSync(path.join(folder, name), text);
      return path.join(folder, name);
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

export type JsonCharacteristic = {
  readonly name: string;
  readonly seat: "ds" | "nds" | null;
  readonly value: number | null;
  readonly unit: string;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly uncertainty: number;
  readonly verdict: string;
  readonly reason?: string;
};

/** The JSON object of the command, as far as it is promised. */
export type CheckJson = {
  readonly frames: readonly {
    readonly serial: string;
    readonly batch: string | null;
    readonly verdict: string;
    readonly characteristics: readonly JsonCharacteristic[];
    readonly inspections: number;
    readonly notMeasured?: string;
    readonly doubts?: readonly string[];
  }[];
  readonly batches: readonly {
    readonly batch: string | null;
    readonly decision: "ship" | "hold";
    readonly reasons: readonly {
      readonly characteristic: string | null;
      readonly text: string;
      readonly serials: readonly string[];
    }[];
    readonly notes: readonly { readonly code: string; readonly text: string }[];
  }[];
  readonly streams: readonly {
    readonly characteristic: string;
    readonly seat: string | null;
    readonly line: string | null;
    readonly statistic: string;
    readonly frames: number;
    readonly signals: readonly { readonly serial: string; readonly rule: string; readonly text: string }[];
    readonly limits: {
      readonly lower: number | null;
      readonly centre: number;
      readonly upper: number | null;
      readonly provisional: boolean;
    } | null;
    readonly noLimits?: string;
    readonly capability: unknown;
  }[];
  readonly cases: readonly {
    readonly line: string | null;
    readonly characteristics: readonly { readonly name: string; readonly seat: string | null }[];
    readonly kind: "step" | "trend" | "spread" | "frames";
    readonly since: { readonly serial: string; readonly earliest: string; readonly latest: string };
    readonly until: string | null;
    readonly change: { readonly value: number; readonly unit: string | null };
    readonly causes: readonly { readonly cause: string; readonly why: string }[];
    readonly frames: readonly string[];
  }[];
  readonly errors: readonly {
    readonly row: number | null;
    readonly column: string | null;
    readonly value: string | null;
    readonly rule: string;
  }[];
  readonly warnings: readonly string[];
};

export function parseJson(run: CheckRun): CheckJson {
  return JSON.parse(run.out) as CheckJson;
}
