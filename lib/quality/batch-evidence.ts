import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName, CharacteristicUnit } from "../core/metrology/shell-drawing";
import { marginToLimits } from "./conformity";
import type { ToldCharacteristic } from "./judge-frame";
import type { Verdict } from "./verdict-words";

/** What one frame brings to the evidence of its batch. */
export type FrameEvidence = {
  readonly serial: string;
  readonly verdict: Verdict;
  /** Judged characteristics; those that conform may be left out. */
  readonly characteristics: readonly Pick<
    ToldCharacteristic,
    | "name"
    | "seat"
    | "value"
    | "unit"
    | "lower"
    | "upper"
    | "uncertainty"
    | "verdict"
    | "critical"
    | "reason"
    | "alwaysHolds"
  >[];
  /** Why the frame as a whole is not measured (a reading missing, no result yet), or null. */
  readonly notMeasured: string | null;
};

/** Everything of one characteristic and seat with one verdict in a batch, with its worst frame. */
export type BatchFinding = {
  readonly characteristic: CharacteristicName;
  readonly seat: Seat | null;
  readonly critical: boolean;
  /** It holds although the characteristic is not critical. */
  readonly alwaysHolds: boolean;
  readonly verdict: Exclude<Verdict, "conforms">;
  readonly serials: readonly string[];
  /** The value furthest beyond or nearest to a limit; null where nothing was measured. */
  readonly worst: {
    readonly serial: string;
    readonly value: number;
    readonly unit: CharacteristicUnit;
    readonly lower: number | null;
    readonly upper: number | null;
    readonly uncertainty: number;
  } | null;
  /** Beside its numbers, in the words in which frames keep it; null where there is none. */
  readonly reason: SharedReason | null;
};

/** The reason of several frames; `serial` where it is that of one and the others have reasons of their own. */
export type SharedReason = { readonly text: string; readonly serial: string | null };

/** The evidence of one batch: counts, and everything that is not plainly good. */
export type BatchEvidence = {
  readonly batch: string | null;
  readonly frames: number;
  readonly verdicts: Readonly<Record<Verdict, number>>;
  readonly findings: readonly BatchFinding[];
  readonly notMeasured: readonly { readonly serial: string; readonly reason: string }[];
};

type OpenFinding = { -readonly [K in keyof Omit<BatchFinding, "reason">]: BatchFinding[K] } & {
  serials: string[];
  reason: string | null;
  margin: number;
  /** The first frame that has a reason beside its numbers. */
  reasonSerial: string | null;
  hasOtherReasons: boolean;
};

function sharedReason({ reason, reasonSerial, hasOtherReasons }: OpenFinding): SharedReason | null {
  return reason === null ? null : { text: reason, serial: hasOtherReasons ? reasonSerial : null };
}

/** Collects the evidence of one batch frame by frame; only what is not plainly good is kept frame by frame. */
export type EvidenceCollector = {
  readonly add: (frame: FrameEvidence) => void;
  readonly evidence: () => BatchEvidence;
};

/** Starts to collect the evidence of a batch. */
export function collectBatchEvidence(batch: string | null): EvidenceCollector {
  const verdicts: Record<Verdict, number> = { conforms: 0, "not proven": 0, "not measured": 0, "does not conform": 0 };
  const findings = new Map<string, OpenFinding>();
  const notMeasured: { serial: string; reason: string }[] = [];
  let frames = 0;

  function addFinding(serial: string, judged: FrameEvidence["characteristics"][number]): void {
    const { name, seat, critical, verdict, value, unit, lower, upper, uncertainty } = judged;
    if (verdict === "conforms") return;
    const alwaysHolds = judged.alwaysHolds === true;
    const key = `${name}|${seat ?? ""}|${verdict}|${alwaysHolds}`;
    let finding = findings.get(key);
    if (!finding) {
      finding = {
        characteristic: name,
        seat,
        critical,
        alwaysHolds,
        verdict,
        serials: [],
        worst: null,
        reason: null,
        margin: Infinity,
        reasonSerial: null,
        hasOtherReasons: false,
      };
      findings.set(key, finding);
    }
    const reason = judged.reason ?? null;
    if (finding.serials.length > 0 && reason !== finding.reason) finding.hasOtherReasons = true;
    if (finding.reason === null && reason !== null) {
      finding.reason = reason;
      finding.reasonSerial = serial;
    }
    finding.serials.push(serial);
    if (value === null) return;
    const margin = marginToLimits(name === "taper" ? Math.abs(value) : value, lower, upper);
    if (margin >= finding.margin && finding.worst !== null) return;
    finding.margin = margin;
    finding.worst = { serial, value, unit, lower, upper, uncertainty };
  }

  function add(frame: FrameEvidence): void {
    frames += 1;
    verdicts[frame.verdict] += 1;
    if (frame.notMeasured !== null) notMeasured.push({ serial: frame.serial, reason: frame.notMeasured });
    for (const judged of frame.characteristics) addFinding(frame.serial, judged);
  }

  function evidence(): BatchEvidence {
    return {
      batch,
      frames,
      verdicts: { ...verdicts },
      findings: [...findings.values()].map((open) => {
        const { margin: _margin, reasonSerial: _reasonSerial, hasOtherReasons: _hasOtherReasons, ...finding } = open;
        return { ...finding, reason: sharedReason(open) };
      }),
      notMeasured: [...notMeasured],
    };
  }

  return { add, evidence };
}

/** The evidence of a batch whose frames are all at hand. */
export function batchEvidence(batch: string | null, frames: readonly FrameEvidence[]): BatchEvidence {
  const collector = collectBatchEvidence(batch);
  for (const frame of frames) collector.add(frame);
  return collector.evidence();
}
