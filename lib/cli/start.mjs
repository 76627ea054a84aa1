// npm start: from a fresh clone to a running plant. Node built-ins only until the packages are there.
import { parseArgs } from "node:util";
import { buildIfChanged } from "./build.mjs";
import { generateClient } from "./generate.mjs";
import { checkNodeVersion, endRunning, ensureDependencies, StartProblem } from "./prepare.mjs";
import { ROOT } from "./root.mjs";
import { enableTypeScript } from "./typescript.mjs";

const HELP = `npm start -- [options]
  --data DIR         folder of the plant's data (default .data, or SHELLGATE_DATA)
  --empty            begin with an empty plant instead of the demo plant
  --lan NAME         answer tablets by HTTPS under this name, with a certificate made for the plant
  --demo-on-network  allow the demo sign-ins from other machines too
  --no-open          do not open the browser
  --dev              development mode
Environment: PORT, DATABASE_URL, DATABASE_OWNER_URL, TLS_CERT, TLS_KEY, AUTH_SECRET, SHELLGATE_DATA (see README.md)
`;
const STEPS = 7;
const PARENT_CHECK_MS = 300;
const SETTLE_MS = 60_000;

const seconds = (from) => `${((performance.now() - from) / 1000).toFixed(1)} s`;
const say = (text) => process.stdout.write(`${text}\n`);

function makeReporter(total) {
  let number = 0;
  return {
    say,
    step: (title) => {
      number += 1;
      const [at, from] = [number, performance.now()];
      return (result) => say(`[${at}/${total}] ${title}: ${result} (${seconds(from)})`);
    },
  };
}

function readArguments() {
  try {
    const { values } = parseArgs({
      options: {
        data: { type: "string" },
        lan: { type: "string" },
        empty: { type: "boolean", default: false },
        dev: { type: "boolean", default: false },
        "demo-on-network": { type: "boolean", default: false },
        "no-open": { type: "boolean", default: false },
        help: { type: "boolean", short: "h", default: false },
      },
    });
    return values;
  } catch (error) {
    throw new StartProblem(`${error.message}\n\n${HELP}`);
  }
}

/** People get a sentence; a stack is for errors that nobody foresaw. */
function describe(error) {
  const isForeseen = error?.name === "StartProblem" || error?.name === "AppError";
  return isForeseen ? error.message : (error?.stack ?? String(error));
}

let lifecycle;
let settled = Promise.resolve();
let ending = false;

async function end(exitCode, reason) {
  if (ending) return;
  ending = true;
  const aborted = lifecycle?.markEnding();
  if (reason !== undefined) process.stderr.write(`${reason}\n`);
  endRunning();
  await aborted;
  await Promise.race([settled, new Promise((resolve) => setTimeout(resolve, SETTLE_MS).unref())]);
  const failures = (await lifecycle?.stop()) ?? [];
  for (const failure of failures) process.stderr.write(`${describe(failure)}\n`);
  process.exit(failures.length > 0 ? 1 : exitCode);
}

async function main() {
  const values = readArguments();
  if (values.help) {
    process.stdout.write(HELP);
    return process.exit(0);
  }
  checkNodeVersion();
  const report = makeReporter(STEPS);

  const done = report.step("Packages");
  const installed = await ensureDependencies({ development: values.dev, say: (text) => say(`  ${text}`) });
  if (await generateClient({ say: (text) => say(`  ${text}`) })) done("database client written");
  else done(installed ? "installed" : "up to date");
  if (ending) return;

  await enableTypeScript();
  const [{ serve }, { Lifecycle }] = await Promise.all([import("./serve.ts"), import("./lifecycle.ts")]);
  if (ending) return;
  lifecycle = new Lifecycle();
  await serve(
    {
      root: ROOT,
      data: values.data,
      dev: values.dev,
      empty: values.empty,
      open: !values["no-open"],
      lan: values.lan,
      demoOnNetwork: values["demo-on-network"],
    },
    {
      lifecycle,
      report,
      build: async (tell) => ((await buildIfChanged({ say: (text) => tell(`  ${text}`) })) ? "built" : "built before"),
      fail: (error) => void end(1, describe(error)),
    },
  );
}

for (const name of ["SIGINT", "SIGTERM", "SIGHUP"]) process.on(name, () => void end(0, `\nStopping (${name}).`));
// npm passes a signal to its shell only, which ends without telling us: its end is ours too.
if (process.env.npm_lifecycle_event !== undefined) {
  const parent = process.ppid;
  setInterval(() => process.ppid !== parent && void end(0, "\nStopping (npm was ended)."), PARENT_CHECK_MS).unref();
}
// The terminal may be gone before we are.
for (const stream of [process.stdout, process.stderr]) stream.on("error", () => {});

let reject = () => {};
settled = main().catch((error) => reject(error));
reject = (error) => {
  if (ending || error?.name === "Stopped") return;
  void end(1, describe(error));
};
