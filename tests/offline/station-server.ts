import { routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import type { RecordZeroCheck } from "@/lib/schemas/gauge";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { BatchHolder, OtherLine, StationKit } from "@/lib/schemas/station-package";

export const STATION = "01920000-0000-7000-8000-0000000000aa";
const REVISION = "01920000-0000-7000-8000-0000000000bb";
const PLAN = "01920000-0000-7000-8000-0000000000cc";

/** A station's package: one batch of frames F-0001 ... by the routine plan. */
export function stationKit(frames: number, batch = "B-1"): StationKit {
  return {
    station: {
      id: STATION,
      key: "S1",
      name: "Station 1",
      line: "L1",
      lineId: STATION,
      operation: "machined",
      viewingSide: "ds",
    },
    batches: [{ id: PLAN, key: batch, supplier: "S", model: "M", planId: PLAN, held: false, frames, measured: 0 }],
    plans: [
      {
        planRevisionId: REVISION,
        planId: PLAN,
        planKey: "P1",
        title: "Routine",
        revision: "1",
        drawingId: PLAN,
        drawing: PRESS_FIT_41,
        readingNames: routinePlan(PRESS_FIT_41).map(formatReadingName),
        frames: { kind: "all" },
      },
    ],
    gauges: [
      {
        key: "BG-1",
        name: "bore gauge",
        kind: "bore",
        principle: "two-point",
        resolutionUm: 1,
        ringMm: 40.975,
        calibratedUntil: "2027-01-01T00:00:00.000Z",
        overdue: false,
      },
      ...(["sweep", "face", "width"] as const).map((kind) => ({
        key: `${kind}-1`,
        name: `${kind} gauge`,
        kind,
        principle: kind === "width" ? "caliper" : "indicator",
        resolutionUm: kind === "width" ? 5 : 0.5,
        ringMm: null,
        calibratedUntil: "2027-01-01T00:00:00.000Z",
        overdue: false,
      })),
    ],
    inspectors: [{ name: "Tavin Quill", badgeCode: "D2" }],
    serverTime: 0,
    frames: [
      {
        batch,
        frames: Array.from({ length: frames }, (_, index) => ({
          serial: `F-${String(index + 1).padStart(4, "0")}`,
          position: index + 1,
          mould: null,
          state: "unmeasured",
          verdict: null,
          inspections: 0,
          leaseDeviceId: null,
        })),
      },
    ],
    build: null,
  };
}

export type StandIn = {
  readonly fetcher: (url: string, init: RequestInit) => Promise<Response>;
  /** What arrived, in the order of arrival; a repeated send adds nothing. */
  readonly arrived: RecordInspection[];
  /** Serials and gauges of what arrived, inspections and zero checks in one order. */
  readonly order: readonly string[];
  readonly checks: readonly RecordZeroCheck[];
  /** What the device said of itself, newest last. */
  readonly reports: readonly unknown[];
  /** Photos that arrived. */
  readonly photos: { readonly inspectionId: string; readonly jpeg: string }[];
  /** Serials that the device gave up. */
  readonly givenUp: readonly string[];
  /** How often an inspection came that was here already. */
  readonly repeats: () => number;
  readonly set: (change: Partial<StandInBehaviour>) => void;
};

export type StandInBehaviour = {
  /** "lost": the server takes the message, and its answer never comes back. */
  network: "there" | "away" | "lost";
  signedOut: boolean;
  /** What the server says of each inspection beside its verdict. */
  warnings: readonly string[];
  verdict: "conforms" | "does not conform";
  /** The device was taken out of use. */
  revoked: boolean;
  /** Why the station is out of use; null while it is in use. */
  closed: string | null;
  /** Other devices that have the batch of a report in hand. */
  batchElsewhere: readonly BatchHolder[];
  /** What the station gets; changed where something happens at the server. */
  kit: StationKit;
  /** What all valid inspections of a frame say together; null where there is one. */
  together: { readonly frameVerdict: string; readonly reasons: readonly unknown[] } | null;
  /** What the server says of the line of each scanned frame; null where it is the station's own. */
  otherLine: OtherLine | null;
  /** What the server says against a zero check; null takes it. */
  refuseCheck: { code: string; detail: string } | null;
  refuse: (inspection: RecordInspection) => { code: string; detail: string; details?: Record<string, unknown> } | null;
};

let serverClock = (): number => 0;

/** The clock of every server that stands in: without it the device's is far ahead. */
export function runServerClock(clock: () => number): void {
  serverClock = clock;
}

/** Stands in for the server's side of Line: takes inspections once by their key, as the real command does. */
export function standInServer(kit: StationKit): StandIn {
  let behaviour: StandInBehaviour = {
    network: "there",
    signedOut: false,
    revoked: false,
    closed: null,
    batchElsewhere: [],
    warnings: [],
    verdict: "conforms",
    kit,
    refuseCheck: null,
    otherLine: null,
    together: null,
    refuse: () => null,
  };
  const order: string[] = [];
  const checks: RecordZeroCheck[] = [];
  const reports: unknown[] = [];
  const arrived: RecordInspection[] = [];
  const givenUp: string[] = [];
  const photos: { readonly inspectionId: string; readonly jpeg: string }[] = [];
  const byId = new Map<string, string>();
  let repeats = 0;

  function take(inspection: RecordInspection): unknown {
    const refusal = behaviour.refuse(inspection);
    if (refusal !== null) return { id: inspection.id, serial: inspection.serial, status: "refused", error: refusal };
    const known = byId.get(inspection.id);
    const content = JSON.stringify(inspection);
    if (known !== undefined && known !== content)
      return { status: "refused", error: { code: "already-recorded-differently", detail: "the first one stands" } };
    if (known === undefined) {
      byId.set(inspection.id, content);
      arrived.push(inspection);
      order.push(inspection.serial);
    } else repeats += 1;
    return {
      id: inspection.id,
      serial: inspection.serial,
      status: known === undefined ? "recorded" : "repeated",
      ordinal: 1,
      verdict: behaviour.verdict,
      frameVerdict: behaviour.verdict,
      frameState: "measured",
      held: false,
      batch: inspection.batch,
      batchHeld: false,
      warnings: behaviour.warnings,
      doubts: [],
      ...behaviour.together,
    };
  }

  function takeCheck(check: RecordZeroCheck): unknown {
    if (!checks.some(({ id }) => id === check.id)) {
      checks.push(check);
      order.push(`zero ${check.gauge}`);
    }
    // The ring of stationKit, and the usual limit of 3 µm.
    const passed = Math.abs(check.readingMm - 40.975) <= 0.003_000_1;
    const resting = passed ? null : { frames: 2, shipped: 0 };
    return { passed, since: null, held: passed ? 0 : 2, escapes: 0, batchesHeld: passed ? [] : ["B-1"], resting };
  }

  function answer(url: string, init: RequestInit): unknown {
    const body = (typeof init.body === "string" ? JSON.parse(init.body) : null) as {
      inspections?: RecordInspection[];
      serial?: string;
      inspectionId?: string;
      jpeg?: string;
    } | null;
    if (url === "/api/v1/line/photos") {
      photos.push({ inspectionId: body?.inspectionId ?? "", jpeg: body?.jpeg ?? "" });
      return { status: "recorded" };
    }
    if (url === "/api/v1/inspections") return { results: (body?.inspections ?? []).map(take) };
    if (url === "/api/v1/zero-checks") return takeCheck(body as unknown as RecordZeroCheck);
    if (url.startsWith("/api/v1/line/stations/")) return behaviour.kit;
    if (url === "/api/v1/line/stations") return { stations: [behaviour.kit.station] };
    if (url === "/api/v1/line/give-up") givenUp.push(body?.serial ?? "");
    if (url === "/api/v1/line/leases")
      return behaviour.otherLine === null
        ? { serial: body?.serial, batch: kit.batches[0]?.key, inspections: 0 }
        : { serial: body?.serial, batch: "B-9", inspections: 0, otherLine: behaviour.otherLine };
    if (url === "/api/v1/line/state") reports.push(body);
    if (url === "/api/v1/line/state") {
      const { closed: stationClosed, batchElsewhere } = behaviour;
      return { serverTime: serverClock(), build: null, stationClosed, batchElsewhere };
    }
    return null;
  }

  const fetcher = async (url: string, init: RequestInit): Promise<Response> => {
    if (behaviour.network === "away") throw new TypeError("Failed to fetch");
    if (behaviour.signedOut) return Response.json({ code: "not-signed-in" }, { status: 401 });
    if (url === "/api/v1/line/state" && behaviour.revoked)
      return Response.json({ code: "refused", detail: "out of use" }, { status: 409 });
    if (url.startsWith("/api/v1/line/stations/") && behaviour.closed !== null)
      return Response.json({ code: "refused", detail: behaviour.closed }, { status: 409 });
    if (url === "/api/v1/zero-checks" && behaviour.refuseCheck !== null)
      return Response.json(behaviour.refuseCheck, { status: 409 });
    const given = answer(url, init);
    if (behaviour.network === "lost") throw new TypeError("the connection was cut");
    return Response.json(given);
  };
  return {
    fetcher,
    arrived,
    order,
    checks,
    reports,
    photos,
    givenUp,
    repeats: () => repeats,
    set: (change) => {
      behaviour = { ...behaviour, ...change };
    },
  };
}
