// Checks a measurement file without a database: npm run -s check -- FILE.csv
import { renameSync, writeFileSync } from "node:fs";
import path from "node:path";
import { DEMONSTRATION_DRAWINGS, findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { isTimeZone } from "@/lib/schemas/measurement-file/measured-at";
import { type CheckArguments, parseCheckArguments, USAGE } from "./check/check-arguments";
import { checkFile, type CheckOutcome, refusedCheck } from "./check/check-file";
import { createReport } from "./check/html-report";
import { frameLines, FRAMES_IN_FULL, humanText } from "./check/human-output";
import { createJsonOutput } from "./check/json-output";
import type { JudgedFrame } from "./check/judge-file-frame";
import { createProgress } from "./check/progress";
import { createRowsOutput } from "./check/rows-output";

/** Paths are meant from where the person stands; npm runs commands at the project's root and says where that was. */
const FROM = process.env.INIT_CWD ?? process.cwd();

function refuse(json: boolean, value: string | null, rule: string): void {
  if (json) createJsonOutput((text) => process.stdout.write(text)).finish(refusedCheck(value, rule));
  process.stderr.write(`check: ${rule}${value === null ? "" : `; got ${value}`}\n`);
  process.exitCode = 1;
}

/** The first thing wrong with the arguments that only the world can tell, or null. */
function wrongArgument(given: CheckArguments): { value: string; rule: string } | null {
  if (given.drawing !== null && !findDemonstrationDrawing(given.drawing)) {
    const known = DEMONSTRATION_DRAWINGS.map(({ key }) => key).join(", ");
    return { value: given.drawing, rule: `--drawing must be a known drawing: ${known}` };
  }
  if (given.zone !== null && !isTimeZone(given.zone))
    return { value: given.zone, rule: "--zone must be a time zone, as Europe/Vienna or +02:00" };
  const outputs = [given.report, given.goodRows, given.badRows].filter((output) => output !== null);
  const places = [given.file, ...outputs].map((output) => path.resolve(FROM, output));
  if (new Set(places).size < places.length)
    return { value: given.file, rule: "the file to check and the files to write must be different files" };
  return null;
}

/** `out.csv` -> `out.errors.csv`. */
function besideGoodRows(goodRows: string): string {
  const { dir, name, ext } = path.parse(goodRows);
  return path.join(dir, `${name}.errors${ext}`);
}

function openRows(given: CheckArguments) {
  if (given.goodRows === null) return null;
  const bad = given.badRows ?? besideGoodRows(given.goodRows);
  return createRowsOutput(path.resolve(FROM, given.goodRows), path.resolve(FROM, bad));
}

/** Standard output that waits for its reader, so that a long result needs no room. */
function drained(): Promise<void> {
  if (!process.stdout.writableNeedDrain) return Promise.resolve();
  return new Promise((resolve) => process.stdout.once("drain", resolve));
}

function writeReport(given: CheckArguments, html: string): void {
  if (given.report === null) return;
  const file = path.resolve(FROM, given.report);
  writeFileSync(`${file}.part`, html);
  renameSync(`${file}.part`, file);
}

async function run(given: CheckArguments): Promise<CheckOutcome> {
  const file = path.resolve(FROM, given.file);
  const json = given.json ? createJsonOutput((text) => process.stdout.write(text)) : null;
  const report = given.report === null ? null : createReport(given.file);
  const rows = openRows(given);
  const shown: string[] = [];
  let unseen = 0;
  let seen = 0;
  const progress = createProgress(file);
  const onFrame = (frame: JudgedFrame) => {
    json?.frame(frame);
    report?.frame(frame);
    if (json || (frame.verdict === "conforms" && frame.doubts.length === 0)) return;
    if (seen < FRAMES_IN_FULL) shown.push(...frameLines(frame));
    else unseen += 1;
    seen += 1;
  };
  try {
    const outcome = await checkFile(
      {
        path: file,
        name: path.basename(file),
        drawing: given.drawing === null ? null : findDemonstrationDrawing(given.drawing),
        zone: given.zone,
        baselineFrames: given.baseline,
        budget: given.budget,
        nowMs: Date.now(),
        goOnWithGoodRows: rows !== null,
      },
      {
        onFrame,
        ...(rows ? { onHeader: rows.header, onRow: rows.row } : {}),
        async onProgress(pass, count, bytes) {
          progress.at(pass, count, bytes);
          await drained();
        },
      },
    );
    progress.end();
    if (outcome.frames > 0 || outcome.problemCount === 0) {
      rows?.finish();
      if (report) writeReport(given, report.html(outcome));
    } else rows?.abandon();
    if (json) json.finish(outcome);
    else process.stdout.write(humanText(path.basename(file), outcome, { lines: shown, more: unseen }));
    return outcome;
  } catch (error) {
    rows?.abandon();
    throw error;
  }
}

// A reader that closes early (head, less) is no error.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  if (error.code !== "EPIPE") throw error;
  process.exit();
});

const parsed = parseCheckArguments(process.argv.slice(2));
if (parsed.kind === "help") process.stdout.write(USAGE);
else if (parsed.kind === "wrong") {
  refuse(parsed.json, null, parsed.problem);
  process.stderr.write(`\n${USAGE}`);
} else {
  const wrong = wrongArgument(parsed.arguments);
  if (wrong) refuse(parsed.arguments.json, wrong.value, wrong.rule);
  else process.exitCode = (await run(parsed.arguments)).exitCode;
}
