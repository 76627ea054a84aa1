import { spawn } from "node:child_process";
import { AppError } from "@/lib/errors";
import { isKnownHost } from "@/lib/server/auth/known-hosts";
import { environment } from "@/lib/server/base/env";
import { DEMO_PASSWORD, DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";
import { keepChildren } from "./children";
import { assertSecret, claimDataFolder, dataFolder, ensureAuthSecret, prepareDataFolder } from "./data-folder";
import { openDatabase, prepareInWords } from "./database-step";
import type { Lifecycle } from "./lifecycle";
import { ensurePlant, type PlantState } from "./plant-step";
import { anyFreePort, choosePort } from "./port";
import { checkLanName, ensurePlantCertificate, machineAddresses, readOwnCertificate, type TlsMaterial } from "./tls";
import { AUTHORITY_PATH, startTlsFront } from "./tls-front";
import { startWeb } from "./web-step";
import { startWorkerProcess } from "./worker-step";

export type ServeOptions = {
  readonly root: string;
  /** As the person gave it, if so. */
  readonly data: string | undefined;
  readonly dev: boolean;
  readonly empty: boolean;
  readonly open: boolean;
  readonly lan: string | undefined;
  readonly demoOnNetwork: boolean;
};

export type Reporter = {
  /** Begins a step; what it returns ends it with the result in words. */
  readonly step: (title: string) => (result: string) => void;
  readonly say: (text: string) => void;
};

export type ServeTools = {
  readonly lifecycle: Lifecycle;
  readonly report: Reporter;
  /** Builds the application if its sources changed, and says in words what was done. */
  readonly build: (say: (text: string) => void) => Promise<string>;
  readonly fail: (error: unknown) => void;
};

const DAY_MS = 86_400_000;

type Tls = {
  readonly material: TlsMaterial;
  readonly names: readonly string[];
  readonly renew: () => Promise<TlsMaterial>;
};

/** The certificate for tablets, or null where only this machine is served. */
async function chooseTls(options: ServeOptions, data: string): Promise<Tls | null> {
  const { TLS_CERT: certificateFile = "", TLS_KEY: keyFile = "" } = process.env;
  if ((certificateFile === "") !== (keyFile === "")) {
    throw new AppError("invalid-input", "TLS_CERT and TLS_KEY belong together: give both or none.");
  }
  if (certificateFile !== "") {
    const { material, names } = readOwnCertificate(certificateFile, keyFile);
    const main = options.lan === undefined ? names[0] : checkLanName(options.lan);
    const others = names.filter((name) => name !== main && !name.includes("*"));
    return {
      material,
      names: [main ?? "localhost", ...others],
      renew: async () => readOwnCertificate(certificateFile, keyFile).material,
    };
  }
  if (options.lan === undefined) return null;
  const names = [...new Set([checkLanName(options.lan), "localhost", "127.0.0.1", "::1", ...machineAddresses()])];
  const make = (): Promise<TlsMaterial> => ensurePlantCertificate(data, names);
  return { material: await make(), names, renew: make };
}

const originOf = (scheme: string, name: string, port: number): string =>
  new URL(`${scheme}://${name.includes(":") ? `[${name}]` : name}:${port}`).origin;

/** The key that signs sessions: the one given, or else the plant's own. */
function chooseSecret(data: string): string {
  const { AUTH_SECRET: given = "" } = process.env;
  if (given === "") return ensureAuthSecret(data);
  assertSecret(given, "AUTH_SECRET");
  return given;
}

/**
 * The address that people type, and those that are as good: the plant's own, and what a person configured who runs a proxy in
 * front of it.
 *
 * @throws Error naming the variable that is not an address
 */
function chooseOrigins(own: readonly string[]): { readonly origin: string; readonly otherOrigins: readonly string[] } {
  const [first = "", ...others] = own;
  const named = (process.env.SHELLGATE_ORIGIN ?? "") === "" ? first : environment("SHELLGATE_ORIGIN");
  const further = environment("SHELLGATE_OTHER_ORIGINS");
  const all = new Set([...(named === first ? [] : [first]), ...others, ...further]);
  return { origin: named, otherOrigins: [...all] };
}

function openBrowser(address: string): void {
  const isHeadless =
    process.env.CI !== undefined ||
    process.env.SSH_CONNECTION !== undefined ||
    !process.stdout.isTTY ||
    (process.platform === "linux" && process.env.DISPLAY === undefined && process.env.WAYLAND_DISPLAY === undefined);
  if (isHeadless) return;
  const [command, args] =
    process.platform === "darwin"
      ? ["open", [address]]
      : process.platform === "win32"
        ? ["cmd", ["/c", "start", "", address]]
        : ["xdg-open", [address]];
  const opener = spawn(command, args, { detached: true, stdio: "ignore" });
  // A machine without that program: the address is on the terminal.
  opener.once("error", () => {});
  opener.unref();
}

async function tellSetUpLink(origin: string, say: (text: string) => void): Promise<void> {
  const { createSetUpLink } = await import("@/lib/server/people/new-plant");
  const { closeConnections } = await import("@/lib/server/db/client");
  const link = await createSetUpLink(origin);
  await closeConnections();
  if (link !== null) say(`  The plant is empty. Set it up within 24 hours at ${link}`);
}

function tellTrust(tls: Tls, origin: string, say: (text: string) => void): void {
  const { fingerprint, authorityFile } = tls.material;
  if (fingerprint === null) return;
  say("");
  say("  Tablets trust this plant once:");
  say(`  1. open ${origin}${AUTHORITY_PATH} (or copy the file ${authorityFile} to the tablet),`);
  say(`  2. compare its SHA-256 fingerprint: ${fingerprint}`);
  say(
    "  3. install it as a certificate authority. iPad: Settings > Profile Downloaded > Install, then General > About >",
  );
  say("     Certificate Trust Settings. Android: Settings > Security > Install a certificate > CA certificate.");
  say("     Windows: open the file > Install > Trusted Root Certification Authorities.");
  say(
    `  The name has to lead to this machine (${machineAddresses().join(", ") || "no network found"}): enter it in your name server.`,
  );
}

function tellSignIns(state: PlantState, mayUse: boolean, say: (text: string) => void): void {
  if (state !== "invented") return;
  say("  Demo plant: its people, frames and numbers are invented.");
  if (!mayUse) {
    say("  Its sign-ins work on this machine only; --demo-on-network allows them from others.");
    return;
  }
  say(`  Sign in with the password ${DEMO_PASSWORD} as`);
  for (const { email, roles } of DEMO_SIGN_INS) say(`    ${email.padEnd(40)} ${roles.join(", ").replaceAll("_", " ")}`);
}

/** Brings everything up in order and returns when Shellgate answers. */
export async function serve(options: ServeOptions, tools: ServeTools): Promise<void> {
  const { root, dev } = options;
  const { lifecycle, report, build, fail } = tools;
  const { say } = report;

  let done = report.step("Data folder");
  const data = dataFolder(root, options.data);
  const tlsIsAsked = options.lan !== undefined || (process.env.TLS_CERT ?? "") !== "";
  const port = await choosePort(process.env.PORT, tlsIsAsked);
  prepareDataFolder(data);
  const claim = claimDataFolder(data, dev ? "npm run dev" : "npm start");
  lifecycle.onStop(claim.release);
  const children = keepChildren();
  lifecycle.onStop(children.dismissGuard);
  const tls = await chooseTls(options, data);
  const secret = chooseSecret(data);
  done(data);

  done = report.step("Database");
  const context = { lifecycle, children, warn: say, fail };
  const { DATABASE_URL: url = "", DATABASE_OWNER_URL: ownerUrl = "" } = process.env;
  const database = await openDatabase(data, { url, ownerUrl }, context);
  done(database.description);
  lifecycle.continueOrStop();

  done = report.step("Tables");
  done(await prepareInWords(database, say));
  lifecycle.continueOrStop();

  done = report.step("Application");
  done(dev ? "development mode, nothing built" : await build(say));
  lifecycle.continueOrStop();

  const scheme = tls === null ? "http" : "https";
  const names = tls?.names ?? ["localhost", "127.0.0.1", "::1"];
  const { origin, otherOrigins } = chooseOrigins(names.map((name) => originOf(scheme, name, port)));
  const env: NodeJS.ProcessEnv = {
    ...process.env,
    NODE_ENV: dev ? "development" : "production",
    NEXT_TELEMETRY_DISABLED: "1",
    DATABASE_URL: database.appUrl,
    AUTH_SECRET: secret,
    SHELLGATE_DATA: data,
    SHELLGATE_ORIGIN: origin,
    SHELLGATE_OTHER_ORIGINS: otherOrigins.join(","),
    SHELLGATE_FORWARDED: tls === null ? (process.env.SHELLGATE_FORWARDED ?? "0") : "1",
    SHELLGATE_DEMO_SIGN_INS: "1",
    SHELLGATE_DEMO_ON_NETWORK: options.demoOnNetwork ? "1" : "0",
  };
  // What serves requests never learns how to become the owner.
  delete env.DATABASE_OWNER_URL;
  Object.assign(process.env, env, { PORT: process.env.PORT ?? "" });
  lifecycle.onStop(children.stopAll);
  lifecycle.onEnding(children.stopAll);

  done = report.step("Plant");
  const announce = (): void => say("  loading the demo plant, once");
  const state = await ensurePlant({
    root,
    folder: data,
    url: database.appUrl,
    ownerUrl: database.ownerUrl,
    empty: options.empty,
    children,
    env,
    announce,
  });
  done({ none: "empty", real: "ready", invented: "demo plant" }[state]);
  lifecycle.continueOrStop();

  done = report.step("Web server and worker");
  const webPort = tls === null ? port : await anyFreePort();
  await Promise.all([
    startWeb({ root, dev, port: webPort, env, children, lifecycle, warn: say, fail }),
    startWorkerProcess({ root, env, children, lifecycle, warn: say }),
  ]);
  if (tls !== null) {
    const front = await startTlsFront({ material: tls.material, port, targetPort: webPort, isKnownHost });
    lifecycle.onStop(front.close);
    // The one in use goes on until somebody mends what is said.
    const renew = (): Promise<void> => tls.renew().then(front.replace, (error: Error) => say(error.message));
    const renewal = setInterval(() => void renew(), DAY_MS);
    lifecycle.onStop(() => clearInterval(renewal));
  }
  claim.setAddress(origin);
  done(origin);
  lifecycle.continueOrStop();

  say("");
  say(`Shellgate is ready: ${origin}`);
  if (port !== 3000 && (process.env.PORT ?? "") === "") say("  (port 3000 is taken; PORT sets another)");
  tellSignIns(state, tls === null || options.demoOnNetwork, say);
  if (state === "none") await tellSetUpLink(origin, say);
  if (tls !== null) tellTrust(tls, origin, say);
  say("");
  say("Ctrl-C stops it.");
  if (options.open) openBrowser(origin);
}
