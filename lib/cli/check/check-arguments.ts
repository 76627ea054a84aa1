import { parseArgs } from "node:util";
import { DEFAULT_FILE_BUDGET } from "./file-alarms";

/** Budgets that thresholds can be made for. */
const LEAST_BUDGET = 0.001;
const LARGEST_BUDGET = 20;

/** What the command was asked to do. Paths are as typed. */
export type CheckArguments = {
  readonly file: string;
  readonly drawing: string | null;
  readonly zone: string | null;
  readonly json: boolean;
  readonly report: string | null;
  readonly goodRows: string | null;
  readonly badRows: string | null;
  readonly baseline: number | null;
  /** False cases per 1,000 frames of all streams together. */
  readonly budget: number;
};

export const USAGE = `Checks a measurement file: verdicts per frame, streams, batch decisions.

  npm run -s check -- FILE.csv [options]

  --drawing KEY      drawing of every row, where the file does not name it
  --zone ZONE        time zone of times without an offset, as Europe/Vienna or +02:00
  --json             one JSON object on standard output and nothing else
  --report FILE      writes a report to print, as one HTML file
  --baseline N       frames of the file that make the control limits, the first 100 by default
  --budget N         false cases that all streams together may have per 1,000 frames, 0.5 by default
  --good-rows FILE   goes on with the good rows of a bad file and writes them to FILE;
                     the bad ones come back with a column "error"
  --bad-rows FILE    where the bad rows go, FILE.errors.csv beside the good ones by default
  --help             this text

Exit code: 0 every batch ships, 2 some hold, 1 the file is bad (nothing was judged).
`;

export type ParsedArguments =
  | { readonly kind: "check"; readonly arguments: CheckArguments }
  | { readonly kind: "help" }
  | { readonly kind: "wrong"; readonly problem: string; readonly json: boolean };

const OPTIONS = {
  drawing: { type: "string" },
  zone: { type: "string" },
  json: { type: "boolean" },
  report: { type: "string" },
  baseline: { type: "string" },
  budget: { type: "string" },
  "good-rows": { type: "string" },
  "bad-rows": { type: "string" },
  help: { type: "boolean", short: "h" },
} as const;

/** Reads the words after the command's name. */
export function parseCheckArguments(words: readonly string[]): ParsedArguments {
  const json = words.includes("--json");
  const wrong = (problem: string): ParsedArguments => ({ kind: "wrong", problem, json });
  let parsed;
  try {
    parsed = parseArgs({ args: [...words], options: OPTIONS, allowPositionals: true, strict: true });
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    return wrong(error.message.split(". ")[0] ?? error.message);
  }
  const { values, positionals } = parsed;
  if (values.help) return { kind: "help" };
  const [file, ...more] = positionals;
  if (file === undefined) return wrong("name the measurement file to check");
  if (more.length > 0) return wrong(`check one file at a time; got ${positionals.length}`);
  const baseline = values.baseline === undefined ? null : Number(values.baseline);
  if (baseline !== null && !(Number.isInteger(baseline) && baseline >= 25))
    return wrong(`--baseline must be a whole number from 25 on; got ${values.baseline}`);
  const budget = values.budget === undefined ? DEFAULT_FILE_BUDGET : Number(values.budget);
  if (!(budget >= LEAST_BUDGET && budget <= LARGEST_BUDGET))
    return wrong(
      `--budget must be a number of false cases per 1,000 frames from ${LEAST_BUDGET} to ${LARGEST_BUDGET}: with none at all nothing could ever be found; got ${values.budget}`,
    );
  if (values["bad-rows"] !== undefined && values["good-rows"] === undefined)
    return wrong("--bad-rows goes with --good-rows");
  return {
    kind: "check",
    arguments: {
      file,
      drawing: values.drawing ?? null,
      zone: values.zone ?? null,
      json,
      report: values.report ?? null,
      goodRows: values["good-rows"] ?? null,
      badRows: values["bad-rows"] ?? null,
      baseline,
      budget,
    },
  };
}
