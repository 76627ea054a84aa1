import type { BatchHolder, OtherLine, StationItem, StationKit } from "@/lib/schemas/station-package";
import type { RecordZeroCheck } from "@/lib/schemas/gauge";
import type { ReportDevice } from "@/lib/schemas/line";

/** What became of a request: an answer, a refusal in words, nobody signed in, or nobody there. */
export type Answer<T> =
  | { readonly kind: "ok"; readonly value: T }
  | {
      readonly kind: "refused";
      readonly code: string;
      readonly message: string;
      readonly details: Readonly<Record<string, unknown>>;
    }
  | { readonly kind: "signed out" }
  | { readonly kind: "away" };

export type Fetch = (url: string, init: RequestInit) => Promise<Response>;

async function ask<T>(fetcher: Fetch, url: string, timeoutMs: number, body?: unknown): Promise<Answer<T>> {
  try {
    const response = await fetcher(url, {
      ...(body === undefined
        ? {}
        : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) }),
      cache: "no-store",
      signal: AbortSignal.timeout(timeoutMs),
    });
    const answer: unknown = await response.json();
    if (response.ok) return { kind: "ok", value: answer as T };
    if (response.status === 401) return { kind: "signed out" };
    if (response.status === 429 || response.status >= 500) return { kind: "away" };
    const problem = answer as { code?: string; detail?: string; details?: Record<string, unknown> };
    return {
      kind: "refused",
      code: problem.code ?? "unexpected",
      message: problem.detail ?? `The server answered ${response.status}.`,
      details: problem.details ?? {},
    };
  } catch {
    return { kind: "away" };
  }
}

const QUICK_MS = 2500;
const PATIENT_MS = 15_000;

export function fetchStations(fetcher: Fetch): Promise<Answer<{ readonly stations: readonly StationItem[] }>> {
  return ask(fetcher, "/api/v1/line/stations", PATIENT_MS);
}

export function fetchStationKit(fetcher: Fetch, stationId: string): Promise<Answer<StationKit>> {
  return ask(fetcher, `/api/v1/line/stations/${encodeURIComponent(stationId)}`, PATIENT_MS);
}

export type LeaseAnswer = {
  readonly serial: string;
  readonly batch: string;
  readonly inspections: number;
  readonly otherLine?: OtherLine;
};

/** Quick: where the network is weak the frame is measured without the lease, and the server decides when the readings come. */
export function leaseFrame(
  fetcher: Fetch,
  lease: { readonly serial: string; readonly deviceId: string; readonly stationId?: string },
): Promise<Answer<LeaseAnswer>> {
  return ask(fetcher, "/api/v1/line/leases", QUICK_MS, lease);
}

export function giveUpLease(
  fetcher: Fetch,
  lease: { readonly serial: string; readonly deviceId: string },
): Promise<Answer<null>> {
  return ask(fetcher, "/api/v1/line/give-up", QUICK_MS, lease);
}

/** What the server says to a report; parts are absent where it is an earlier version. */
export type ReportAnswer = {
  /** What people call the device. */
  readonly name?: string;
  readonly serverTime: number;
  readonly build: string | null;
  readonly stationClosed?: string | null;
  readonly batchElsewhere?: readonly BatchHolder[];
};

export function sendReport(fetcher: Fetch, report: ReportDevice): Promise<Answer<ReportAnswer>> {
  return ask(fetcher, "/api/v1/line/state", QUICK_MS, report);
}

/** Sends a photo; its inspection has to be there. */
export function sendPhoto(
  fetcher: Fetch,
  photo: { readonly id: string; readonly inspectionId: string; readonly jpeg: string },
): Promise<Answer<{ readonly status: "recorded" | "repeated" }>> {
  return ask(fetcher, "/api/v1/line/photos", PATIENT_MS, photo);
}

/** What the server says of a zero check; the part of the answer that the device uses. */
export type ZeroCheckAnswer = {
  readonly passed: boolean;
  readonly since: string | null;
  readonly held: number;
  readonly escapes: number;
  readonly batchesHeld: readonly string[];
  readonly resting: { readonly frames: number; readonly shipped: number } | null;
};

/** Sends a zero check; a failed one may judge many frames again, which takes its time. */
export function sendZeroCheck(fetcher: Fetch, check: RecordZeroCheck): Promise<Answer<ZeroCheckAnswer>> {
  return ask(fetcher, "/api/v1/zero-checks", PATIENT_MS, check);
}
