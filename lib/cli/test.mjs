// npm test: everything that has to hold, in the order in which it is quickest to fail. npm test -- unit server runs some.
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { buildIfChanged } from "./build.mjs";
import { ensureBrowser } from "./find-browser.mjs";
import { generateClient } from "./generate.mjs";
import { checkNodeVersion, ensureDependencies } from "./prepare.mjs";
import { ROOT } from "./root.mjs";

const say = (text) => process.stdout.write(`${text}\n`);
const reports = mkdtempSync(path.join(os.tmpdir(), "shellgate-reports-"));
const bin = (name) => path.join(ROOT, "node_modules", name);
const env = { ...process.env, NEXT_TELEMETRY_DISABLED: "1" };
const count = { passed: 0, failed: 0 };
const failures = [];
/** Each failed test by its file and name, said once more at the end of a long log. */
const failedTests = [];

/** @param quietly - what it says is kept until it ends, and it gives way to whatever else runs */
function run(args, quietly = false) {
  return new Promise((resolve) => {
    const stdio = ["ignore", ...(quietly ? ["pipe", "pipe"] : ["inherit", "inherit"])];
    const child = spawn(process.execPath, args, { cwd: ROOT, env, stdio });
    const said = [];
    const end = (code) => {
      process.stdout.write(Buffer.concat(said));
      resolve(code ?? 1);
    };
    child.on("error", () => resolve(1));
    if (!quietly) return child.on("exit", end);
    for (const stream of [child.stdout, child.stderr]) stream.on("data", (chunk) => said.push(chunk));
    if (child.pid !== undefined) os.setPriority(child.pid, os.constants.priority.PRIORITY_LOW);
    child.on("close", end);
  });
}

function fail(name, cases = 1) {
  count.failed += cases;
  failures.push(name);
}

/** What vitest counted. A file that could not be loaded, or a run that broke off, counts as one failure. */
function readReport(file, exitCode) {
  if (!existsSync(file)) return { passed: 0, failed: 1 };
  const report = JSON.parse(readFileSync(file, "utf8"));
  for (const { name, status, message, assertionResults } of report.testResults) {
    const at = path.relative(ROOT, name);
    if (status === "failed" && assertionResults.length === 0) failedTests.push(`${at}: ${message}`);
    for (const result of assertionResults)
      if (result.status === "failed")
        failedTests.push(`${at} > ${result.fullName}: ${result.failureMessages.join("\n").slice(0, 2000)}`);
  }
  const unloaded = report.testResults.filter(
    (result) => result.status === "failed" && result.assertionResults.length === 0,
  );
  const failed = report.numFailedTests + unloaded.length;
  const unrun = report.numPendingTests + report.numTodoTests;
  // A skipped test is a promise that nobody keeps.
  const total = failed + unrun;
  const hasBrokenOff = exitCode !== 0 || report.numTotalTests === 0;
  return { passed: report.numPassedTests, failed: total === 0 && hasBrokenOff ? 1 : total };
}

async function vitest(name, projects, quietly = false) {
  const file = path.join(reports, `${name}.json`);
  const command = [
    bin("vitest/vitest.mjs"),
    "run",
    ...projects.flatMap((project) => ["--project", project]),
    "--reporter=default",
    "--reporter=json",
    `--outputFile.json=${file}`,
  ];
  const code = await run(command, quietly);
  const { passed, failed } = readReport(file, code);
  count.passed += passed;
  if (failed > 0) fail(name, failed);
}

async function check(name, quietly, ...commands) {
  for (const args of commands) {
    if ((await run(args, quietly)) === 0) continue;
    fail(name);
    return;
  }
}

const attempt = (name, work) => async () => {
  try {
    await work();
  } catch (error) {
    process.stderr.write(`${error.message}\n`);
    fail(name);
  }
};

const STEPS = {
  typecheck: () =>
    check("typecheck", false, [bin("next/dist/bin/next"), "typegen"], [bin("typescript/bin/tsc"), "--noEmit"]),
  lint: (quietly) => check("lint", quietly, [bin("eslint/bin/eslint.js"), "--max-warnings", "0", "."]),
  format: (quietly) =>
    check("format", quietly, [bin("prettier/bin/prettier.cjs"), "--check", "--log-level", "warn", "."]),
  unit: (quietly) => vitest("unit", ["unit", "rules"], quietly),
  server: () => vitest("server", ["server"]),
  build: attempt("build", () => buildIfChanged({ say })),
  e2e: attempt("e2e", async () => {
    process.env.CHROMIUM_PATH = env.CHROMIUM_PATH = await ensureBrowser({ say });
    await vitest("e2e", ["e2e"]);
  }),
};

/** Done while the browser tests run. */
const BESIDE = ["lint", "format", "unit"];

async function main() {
  const asked = process.argv.slice(2);
  const unknown = asked.filter((name) => !(name in STEPS));
  if (unknown.length > 0)
    throw new Error(`There is no step ${unknown.join(", ")}; there are ${Object.keys(STEPS).join(", ")}.`);
  checkNodeVersion();
  await ensureDependencies({ development: true, say });
  await generateClient({ say });
  const names = asked.length > 0 ? asked : Object.keys(STEPS);
  const timed = async (name, ...how) => {
    const from = performance.now();
    say(`\n== ${name}`);
    await STEPS[name](...how);
    say(`== ${name}: ${((performance.now() - from) / 1000).toFixed(0)} s`);
  };
  // A browser test waits most of its time: what only computes is done meanwhile.
  const beside = names.includes("e2e") ? names.filter((name) => BESIDE.includes(name)) : [];
  const workBeside = async () => {
    for (const name of beside) await timed(name, true);
  };
  let besideDone;
  for (const name of names.filter((one) => !beside.includes(one))) {
    if (name === "e2e") besideDone = workBeside();
    await timed(name);
  }
  await besideDone;
}

try {
  await main();
} catch (error) {
  process.stderr.write(`${error.message}\n`);
  fail("preparation");
} finally {
  rmSync(reports, { recursive: true, force: true });
}
if (failures.length > 0) say(["", `Failed: ${failures.join(", ")}`, ...failedTests].join("\n"));
say(`\n${count.passed} passed, ${count.failed} failed`);
process.exitCode = count.failed > 0 ? 1 : 0;
