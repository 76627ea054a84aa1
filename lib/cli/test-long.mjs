// npm run test:long: what has to hold and takes longer than npm test may. npm run test:long -- tests scale runs some of it.
import { spawn } from "node:child_process";
import path from "node:path";
import { buildIfChanged } from "./build.mjs";
import { ensureBrowser } from "./find-browser.mjs";
import { generateClient } from "./generate.mjs";
import { checkNodeVersion, ensureDependencies } from "./prepare.mjs";
import { ROOT } from "./root.mjs";

const say = (text) => process.stdout.write(`${text}\n`);
const VITEST = path.join(ROOT, "node_modules/vitest/vitest.mjs");
const RUN = path.join(ROOT, "lib/cli/run.mjs");
const bench = (...args) => ["node", RUN, "tests/bench/run.ts", ...args];

/** Name of each part and how it is run; each fails by its exit code. */
const PARTS = {
  tests: ["node", VITEST, "run", "--project", "long", "--disable-console-intercept"],
  sights: ["node", VITEST, "run", "--project", "e2e", "tests/e2e/accessibility.test.ts"],
  honesty: bench("honesty"),
  "interval-coverage": bench("interval-coverage"),
  signals: bench("signals"),
  "signals-cases": bench("signals-cases"),
  "cases-cost": bench("cases-cost"),
  load: bench("load"),
  scale: bench("scale", "100000"),
  "line-kills": bench("line-kills"),
};

/** Runs a command, shows what it says, and gives its exit code with the figures among its lines. */
function run([, ...args]) {
  return new Promise((resolve) => {
    const env = { ...process.env, EVERY_SIGHT: "1" };
    const child = spawn(process.execPath, args, { cwd: ROOT, env, stdio: ["ignore", "pipe", "inherit"] });
    let said = "";
    child.stdout.on("data", (chunk) => {
      said += chunk;
      process.stdout.write(chunk);
    });
    child.on("error", () => resolve({ code: 1, figures: [] }));
    child.on("close", (code) => {
      const figures = said.split("\n").filter((line) => /^[a-z-]+: .*\d|FAIL|Tests .*passed/.test(line));
      resolve({ code: code ?? 1, figures });
    });
  });
}

async function main() {
  const asked = process.argv.slice(2);
  const unknown = asked.filter((name) => !(name in PARTS));
  if (unknown.length > 0)
    throw new Error(`There is no part ${unknown.join(", ")}; there are ${Object.keys(PARTS).join(", ")}.`);
  checkNodeVersion();
  await ensureDependencies({ development: true, say });
  await generateClient({ say });
  await buildIfChanged({ say });
  process.env.CHROMIUM_PATH = await ensureBrowser({ say });
  const lines = [];
  const failed = [];
  for (const name of asked.length > 0 ? asked : Object.keys(PARTS)) {
    const from = performance.now();
    say(`\n== ${name}`);
    const { code, figures } = await run(PARTS[name]);
    const seconds = ((performance.now() - from) / 1000).toFixed(0);
    lines.push(`== ${name}: ${code === 0 ? "passed" : "FAILED"} after ${seconds} s`, ...figures);
    if (code !== 0) failed.push(name);
  }
  say(["", ...lines, "", failed.length === 0 ? "All parts passed." : `Failed: ${failed.join(", ")}`].join("\n"));
  process.exitCode = failed.length > 0 ? 1 : 0;
}

try {
  await main();
} catch (error) {
  process.stderr.write(`${error.message}\n`);
  process.exitCode = 1;
}
