import { describe, expect, it } from "vitest";
import { importsOf, isClientFile, readSourceFiles, type SourceFile } from "./source-files";

type Layer = keyof typeof ALLOWED;

/** Who may import whom. What is not listed may not. */
const ALLOWED = {
  core: ["core"],
  quality: ["core", "quality", "errors"],
  schemas: ["core", "schemas", "errors"],
  format: ["core", "format", "errors"],
  charts: ["core", "format", "charts", "errors"],
  ui: ["ui", "charts", "format", "schemas", "core", "errors"],
  offline: ["offline", "core", "quality", "schemas", "format", "errors"],
  simulation: ["simulation", "core", "quality", "schemas", "errors"],
  server: ["server", "core", "quality", "schemas", "format", "errors", "simulation", "charts"],
  cli: ["cli", "server", "core", "quality", "schemas", "format", "charts", "errors", "simulation"],
  client: ["client", "app", "ui", "charts", "format", "schemas", "core", "quality", "offline", "errors"],
  app: ["app", "client", "ui", "charts", "format", "schemas", "core", "quality", "offline", "errors", "server"],
  errors: [],
} as const satisfies Record<string, readonly string[]>;

/** Layers of which only types may be had: codes, numbers and states come in, words go out. */
const TYPES_ONLY: Readonly<Partial<Record<Layer, readonly Layer[]>>> = { schemas: ["quality"], format: ["quality"] };

function layerOf(target: string): Layer | null {
  if (target === "lib/errors") return "errors";
  const [top, folder = ""] = target.split("/");
  if (top === "app") return "app";
  return top === "lib" && folder in ALLOWED ? (folder as Layer) : null;
}

/** The route folder that a file of app belongs to; `app/_components` and `app` itself belong to all. */
function routeOf(file: string): string {
  const parts = file.split("/").slice(1, -1);
  const first = parts[0] ?? "";
  return first.startsWith("_") || first === "styles" ? "" : first;
}

function brokenDirections(files: readonly SourceFile[]): string[] {
  return files.flatMap((file) => {
    const own = layerOf(file.path.replace(/\.(ts|tsx|mjs)$/, ""));
    if (own === null) return [];
    const from: Layer = own === "app" && isClientFile(file) ? "client" : own;
    const allowed: readonly string[] = ALLOWED[from];
    return importsOf(file).flatMap(({ target, specifier, typeOnly }) => {
      if (target === null) return [];
      const to = layerOf(target);
      if (to !== null && typeOnly && TYPES_ONLY[from]?.includes(to) === true) return [];
      if (to !== null && !allowed.includes(to)) return [`${file.path} (${from}) imports ${specifier} (${to})`];
      const crossRoute = to === "app" && routeOf(target) !== "" && routeOf(target) !== routeOf(file.path);
      return crossRoute ? [`${file.path} imports ${specifier}, which belongs to another route`] : [];
    });
  });
}

const PURE = ["core", "quality", "format", "charts", "simulation"];
/** Packages that a pure layer may use, by layer; the door is the only file that may. */
const DOORS: readonly { readonly package: RegExp; readonly files: RegExp }[] = [
  { package: /^simple-statistics$/, files: /^lib\/core\/(distributions|numerics)\// },
  { package: /^@stdlib\//, files: /^lib\/core\/distributions\// },
  { package: /^chart\.js$/, files: /^lib\/charts\// },
];

function brokenPurity(files: readonly SourceFile[]): string[] {
  return files.flatMap((file) => {
    const layer = file.path.split("/")[1] ?? "";
    if (!PURE.includes(layer)) return [];
    return importsOf(file)
      .filter(({ target }) => target === null)
      .filter(({ specifier, typeOnly }) => {
        const door = DOORS.find((one) => one.package.test(specifier));
        if (!door) return true;
        return !door.files.test(file.path) || (specifier === "chart.js" && !typeOnly);
      })
      .map(({ specifier }) => `${file.path} imports the package ${specifier}`);
  });
}

/** The rooms of lib/core/control and those below each of them, on which it may stand. */
const CONTROL_ROOMS: Readonly<Record<string, readonly string[]>> = {
  rules: [],
  "run-length": ["rules"],
  charts: ["rules", "run-length"],
  causes: ["rules", "run-length", "charts"],
  "tool-life": ["rules", "run-length", "charts"],
  alarm: ["rules", "run-length", "charts"],
  cases: ["rules", "run-length", "charts", "causes", "alarm"],
};

function brokenControlRooms(files: readonly SourceFile[]): string[] {
  const roomOf = (path: string) => /^lib\/core\/control\/(?:([^/]+)\/)?[^/]+$/.exec(path);
  return files.flatMap((file) => {
    const own = roomOf(file.path);
    if (own === null) return [];
    const below = CONTROL_ROOMS[own[1] ?? ""];
    if (below === undefined) return [`${file.path} lies in no room of lib/core/control`];
    return importsOf(file).flatMap(({ target, specifier }) => {
      const to = target === null ? null : roomOf(target);
      if (to === null || to[1] === own[1] || below.includes(to[1] ?? "")) return [];
      return [`${file.path} imports ${specifier} from a room beside or above it`];
    });
  });
}

/** The floors of lib/server from the ground up: a room stands on rooms of lower floors only, of which types count too. */
const SERVER_FLOORS: readonly (readonly string[])[] = [
  ["base"],
  ["db", "pdf"],
  ["journal", "jobs"],
  ["outbox"],
  ["auth", "evidence"],
  ["doors", "live", "tokens", "people", "line", "plant", "frames", "attachments", "analysis", "geometry"],
  ["drawings", "batches", "gauges", "audit", "compute", "backup", "events"],
  ["plans", "drift", "installation"],
  ["cases"],
  ["inspections"],
  ["gate"],
  ["shipments", "messages", "papers"],
  ["demo", "worker"],
  ["today"],
];

function brokenServerFloors(files: readonly SourceFile[]): string[] {
  const roomOf = (path: string) => /^lib\/server\/(?:([^/]+)\/)?[^/]+/.exec(path);
  const floorOf = (room: string) => SERVER_FLOORS.findIndex((rooms) => rooms.includes(room));
  return files.flatMap((file) => {
    const own = roomOf(file.path);
    if (own === null) return [];
    const floor = floorOf(own[1] ?? "");
    if (floor < 0) return [`${file.path} lies in no room of lib/server`];
    return importsOf(file).flatMap(({ target, specifier }) => {
      const to = target === null ? null : roomOf(target);
      if (to === null || to[1] === own[1] || floorOf(to[1] ?? "") < floor) return [];
      return [`${file.path} imports ${specifier} from a room beside or above it`];
    });
  });
}

/** Packages of the server that one file alone knows, since their line is frozen or may be replaced. */
const SERVER_DOORS: readonly { readonly package: string; readonly file: string }[] = [
  { package: "pg-boss", file: "lib/server/jobs/queue.ts" },
];

function pastServerDoors(files: readonly SourceFile[]): string[] {
  return files.flatMap((file) =>
    importsOf(file)
      .filter(({ specifier }) =>
        SERVER_DOORS.some(
          (door) => (specifier === door.package || specifier.startsWith(`${door.package}/`)) && file.path !== door.file,
        ),
      )
      .map(({ specifier }) => `${file.path} imports ${specifier} past its door`),
  );
}

function importCycles(files: readonly SourceFile[]): string[] {
  const graph = new Map(
    files.map((file) => [
      file.path.replace(/\.(ts|tsx|mjs)$/, ""),
      importsOf(file).flatMap(({ target }) => (target === null ? [] : [target])),
    ]),
  );
  const state = new Map<string, "open" | "done">();
  const cycles: string[] = [];
  const visit = (node: string, trail: readonly string[]): void => {
    if (state.get(node) === "done") return;
    if (state.get(node) === "open") {
      cycles.push([...trail.slice(trail.indexOf(node)), node].join(" -> "));
      return;
    }
    state.set(node, "open");
    for (const next of graph.get(node) ?? []) if (graph.has(next)) visit(next, [...trail, node]);
    state.set(node, "done");
  };
  for (const node of graph.keys()) visit(node, []);
  return cycles;
}

describe("import directions", () => {
  const files = readSourceFiles("lib", "app");

  it("run one way between the layers and never between routes", () => {
    expect(brokenDirections(files)).toEqual([]);
  });
  it("are seen where a layer reaches up, a client reaches the server, a route another", () => {
    const samples: SourceFile[] = [
      { path: "lib/core/units/length.ts", text: 'import type { Verdict } from "@/lib/quality/verdict-words";' },
      { path: "lib/ui/table.tsx", text: 'import { getBatch } from "@/lib/server/gate/queries";' },
      {
        path: "app/gate/_components/form.tsx",
        text: '"use client";\nimport { getPool } from "@/lib/server/db/client";',
      },
      { path: "app/gate/page.tsx", text: 'import { Chart } from "../drift/_components/chart";' },
    ];
    expect(brokenDirections(samples)).toHaveLength(4);
    const types = 'import type { FrameState } from "@/lib/quality/frame-state";';
    const values = 'import { FRAME_STATES } from "@/lib/quality/frame-state";';
    const words = (text: string): SourceFile[] => [{ path: "lib/format/words.ts", text }];
    expect([brokenDirections(words(types)), brokenDirections(words(values))].map((one) => one.length)).toEqual([0, 1]);
    const sentence = (from: string): SourceFile[] => [
      { path: "lib/quality/reason.ts", text: `import { words } from "../format/${from}";` },
    ];
    expect(brokenDirections(sentence("number-text"))).toHaveLength(1);
    expect(brokenDirections(sentence("date-text"))).toHaveLength(1);
  });

  it("keep packages out of the pure layers, but for their doors", () => {
    expect(brokenPurity(files)).toEqual([]);
  });
  it("are seen where a pure layer opens a package past its door", () => {
    const samples: SourceFile[] = [
      { path: "lib/core/control/limits.ts", text: 'import { mean } from "simple-statistics";' },
      { path: "lib/charts/stream.ts", text: 'import { Chart } from "chart.js";' },
      { path: "lib/quality/judge.ts", text: 'import { z } from "zod";' },
      { path: "lib/format/text.ts", text: 'import { readFileSync } from "node:fs";' },
    ];
    expect(brokenPurity(samples)).toHaveLength(4);
  });

  it("run one way between the rooms of control", () => {
    expect(brokenControlRooms(files)).toEqual([]);
  });
  it("are seen where a room of control stands on one above it, or a file lies in none", () => {
    const samples: SourceFile[] = [
      { path: "lib/core/control/rules/scan.ts", text: 'import type { ChartKind } from "../charts/chart-result";' },
      { path: "lib/core/control/causes/shift.ts", text: 'import { toolLife } from "../tool-life/tool-life";' },
      { path: "lib/core/control/limits.ts", text: "" },
    ];
    expect(brokenControlRooms(samples)).toHaveLength(3);
  });

  it("run down the floors of the server", () => {
    expect(brokenServerFloors(files)).toEqual([]);
  });
  it("are seen where a room of the server stands on one beside or above it, or a file lies in none", () => {
    const samples: SourceFile[] = [
      { path: "lib/server/evidence/hold.ts", text: 'import type { Placed } from "../inspections/placed-inspection";' },
      { path: "lib/server/gauges/register.ts", text: 'import { listDrawings } from "../drawings/queries";' },
      { path: "lib/server/clock.ts", text: "" },
    ];
    expect(brokenServerFloors(samples)).toHaveLength(3);
  });

  it("lead to a package of the server by its door", () => {
    expect(pastServerDoors(files)).toEqual([]);
  });
  it("are seen where they lead past it", () => {
    const samples: SourceFile[] = [
      { path: "lib/server/messages/send.ts", text: 'import PgBoss from "pg-boss";' },
      { path: "lib/server/worker/times.ts", text: 'import type { Db } from "pg-boss/types";' },
      { path: "lib/server/jobs/queue.ts", text: 'import PgBoss from "pg-boss";' },
    ];
    expect(pastServerDoors(samples)).toHaveLength(2);
  });

  it("have no circle, of types neither", () => {
    expect(importCycles(files)).toEqual([]);
  });
  it("are seen where they run in a circle", () => {
    const samples: SourceFile[] = [
      { path: "lib/core/a.ts", text: 'import { b } from "./b";' },
      { path: "lib/core/b.ts", text: 'import type { A } from "./a";' },
    ];
    expect(importCycles(samples)).toEqual(["lib/core/a -> lib/core/b -> lib/core/a"]);
  });
});
