import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import type { CharacteristicUnit } from "@/lib/core/metrology/shell-drawing";
import { caseHeadline } from "@/lib/format/case-words";
import { FRAME_STATE_WORDS } from "@/lib/format/frame-state-words";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { formatSeat } from "@/lib/format/clock-text";
import { formatMoment } from "@/lib/format/date-text";
import { formatMoney, formatSizeMm, formatValue } from "@/lib/format/number-text";
import type { ReasonCode } from "@/lib/quality/batch-decision";
import { isState, OPEN_STATES, STATES_BY_READINGS } from "@/lib/quality/frame-state";
import { mayDo } from "@/lib/server/auth/permissions";
import { findBatchSample } from "@/lib/server/batches/sampling-queries";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { type CaseOfBatch, casesOfBatch } from "@/lib/server/cases/queries";
import { reasonInWords } from "@/lib/format/verdict-reasons";
import { type BatchDecisionRecord, getBatch, type BatchFrameItem, type BatchPage } from "@/lib/server/gate/queries";
import { FrameCells, type FrameCell } from "@/lib/ui/frame-cells";
import { PageFrame, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { JournalLink } from "../../../_components/journal-link";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { keepWhole } from "@/lib/ui/keep-whole";
import { CauseList } from "./_components/cause-list";
import { DecisionForm } from "./_components/decision-form";
import { groupReasons, ReasonList } from "./_components/reason-list";
import { SampleSection } from "./_components/sample-section";
import { GATE_WORDS } from "../../words";
import styles from "./batch.module.css";

const words = GATE_WORDS.batch;

export async function generateMetadata({ params }: PageProps<"/gate/batches/[key]">): Promise<Metadata> {
  return { title: words.batch(addressPart((await params).key)) };
}

const BANNER = {
  held: { mark: "held", word: words.held },
  open: { mark: "in measurement", word: words.beingMeasured },
  clear: { mark: "go", word: words.mayShip },
  gone: { mark: "shipped", word: words.closed },
} as const satisfies Record<BatchPage["state"], { mark: MarkedState; word: string }>;

async function findBatch(viewer: PersonViewer, key: string): Promise<BatchPage> {
  try {
    return await getBatch(viewer, key);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

/** A frame's state where it says more than its verdict does. */
function shownByState({ state }: BatchFrameItem): MarkedState | null {
  const isByReadings = state !== "in_measurement" && isState(state, STATES_BY_READINGS);
  return isByReadings ? null : FRAME_STATE_WORDS[state];
}

/** The mark of a frame: what was decided or happened, else its verdict. */
function frameMark(frame: BatchFrameItem): MarkedState {
  if (frame.leaseDeviceId !== null) return "on device";
  return shownByState(frame) ?? frame.verdict ?? "not measured";
}

function frameDetail(frame: BatchFrameItem, unit: CharacteristicUnit | null): string {
  if (frame.leaseDeviceId !== null) return words.onDevice;
  const word = shownByState(frame);
  if (word !== null) return word;
  // A part of the readings gives no result yet, whatever they show.
  if (frame.verdict === null || frame.verdict === "not measured")
    return frame.inspections === 0 ? words.toDo : words.inPart;
  // A size has no room for its unit in a cell: the heading above says it.
  if (frame.shown !== null && unit === "mm") return formatSizeMm(frame.shown);
  if (frame.shown !== null && unit !== null) return formatValue(frame.shown, unit);
  return "";
}

function cellsOf(frames: readonly BatchFrameItem[], unit: CharacteristicUnit | null): FrameCell[] {
  return frames.map((frame) => ({
    serial: frame.serial,
    short: frame.serial.slice(-2),
    state: frameMark(frame),
    detail: frameDetail(frame, unit),
    href: `/frames/${encodeURIComponent(frame.serial)}`,
  }));
}

/** Frames by mould cavity where the batch has several: an uneven one shows at a glance. */
function groupsOf(frames: readonly BatchFrameItem[]): (readonly [string | null, BatchFrameItem[]])[] {
  const groups = new Map<string | null, BatchFrameItem[]>();
  for (const frame of frames) groups.set(frame.mould, [...(groups.get(frame.mould) ?? []), frame]);
  return [...groups].sort(([a], [b]) => String(a).localeCompare(String(b)));
}

function shownWords({ shownOf }: BatchPage): string {
  if (shownOf === null) return words.eachOpensFramesRecord;
  const { seat, characteristic, unit } = shownOf;
  const of = characteristic === "bore" ? words.meanOfSeat : "";
  return `${seat === null ? "" : `${formatSeat(seat)} `}${characteristic}${of}${unit === "mm" ? words.mm : ""}`;
}

/** Reasons that hold the unmeasured frames of a sampled batch until somebody signs for the risk. */
const RISKS: readonly ReasonCode[] = ["sample-failed", "capability-bound", "capability-unknown"];

function lead(batch: BatchPage, zone: string): string {
  const count = groupReasons(batch.decision.reasons).length;
  const reasons = words.reasonsLeft(count);
  if (batch.state === "held")
    return words.heldAutomaticallyOn(formatMoment(batch.heldAt ?? batch.asOf, { zone }), reasons);
  if (batch.state === "open" && batch.verdicts["not measured"] === 0 && count > 0)
    return words.unmeasuredFramesWait(reasons);
  if (batch.state === "open")
    return words.withoutResult(
      batch.verdicts["not measured"],
      batch.decision.reasons.some(({ code }) => code !== "not-measured") ? "." : words.nothingIsAgainstSoFar,
    );
  if (batch.state === "clear")
    return batch.releasedAt === null
      ? words.allMeasured
      : words.releasedBySignedDecisionOn(formatMoment(batch.releasedAt, { zone }));
  return words.everyFrameHasLeftPlant(groupReasons(batch.was?.reasons ?? []).length);
}

const COUNTS = [
  { verdict: "conforms", word: words.conform },
  { verdict: "does not conform", word: words.doNotConform },
  { verdict: "not proven", word: words.notProven },
  { verdict: "not measured", word: words.noEvidenceYet },
] as const;

function BatchHead({ batch, zone }: Readonly<{ batch: BatchPage; zone: string }>) {
  const { mark, word } = BANNER[batch.state];
  return (
    <header className={styles.head}>
      <span className={styles.mark} aria-hidden="true">
        <StateMark state={mark} size="fill" wordBeside />
      </span>
      <h1 className={batch.state === "held" ? `${styles.word} noText` : styles.word}>{word}</h1>
      <div className={styles.what}>
        <p>{words.fromSupplier(<b className="mono">{batch.key}</b>, batch.frames.length, batch.supplier)}</p>
        <p className="soft">{keepWhole(lead(batch, zone))}</p>
      </div>
      <ul className={styles.counts}>
        {COUNTS.map(({ verdict, word: label }) => (
          <li key={verdict}>
            <StateMark state={verdict} size="s" wordBeside />
            <b>{batch.verdicts[verdict]}</b>
            <span>{label}</span>
          </li>
        ))}
      </ul>
    </header>
  );
}

/** Whose cause the signer said it is, and what that costs. */
function CauseOf({ cause }: Readonly<{ cause: BatchDecisionRecord["cause"] }>) {
  if (cause === null) return null;
  const said = cause.said ?? (cause.side === "ours" ? "ours" : null);
  const parts = [
    said === null
      ? null
      : said === "ours"
        ? words.ourCause
        : said === "supplier"
          ? words.supplierCause
          : words.causeNotKnown,
    cause.cost === null ? null : words.costs(formatMoney(cause.cost)),
    cause.against === null ? null : words.againstCause(cause.against),
  ].filter((part) => part !== null);
  return parts.length === 0 ? null : <span className={styles.causeOf}>{parts.join(", ")}</span>;
}

/** The batch as the signer saw it. */
function Picture({ picture }: Readonly<{ picture: BatchDecisionRecord["picture"] }>) {
  if (picture === null) return null;
  const { verdicts, reasons } = picture;
  return (
    <details className={styles.same}>
      <summary>{words.whatItStoodOn}</summary>
      <p>
        {words.countsThen(
          verdicts.conforms,
          verdicts["does not conform"],
          verdicts["not proven"],
          verdicts["not measured"],
        )}
      </p>
      {reasons.length === 0 ? <p>{words.nothingWasAgainst}</p> : null}
      {reasons.map(({ text }) => (
        <p key={text}>{keepWhole(reasonInWords(text, { side: "ds" }))}</p>
      ))}
    </details>
  );
}

function Decisions({ batch, zone }: Readonly<{ batch: BatchPage; zone: string }>) {
  if (batch.decisions.length === 0) return null;
  return (
    <>
      <SectionHeading>{words.signedSoFar}</SectionHeading>
      <ul className={styles.decisions}>
        {batch.decisions.map((decision) => (
          <li key={decision.id}>
            <b>{decision.kind.replaceAll("_", " ")}</b>{" "}
            {decision.serials.length === 0 ? (
              words.theBatch
            ) : (
              <span className="mono">{keepWhole(decision.serials.join(" "))}</span>
            )}
            : {keepWhole(decision.grounds)}
            <small>
              {decision.person}, {keepWhole(formatMoment(decision.at, { zone }))}
              {decision.expiresAt === null
                ? ""
                : keepWhole(words.untilExpiresAt(formatMoment(decision.expiresAt, { zone })))}
              <CauseOf cause={decision.cause} />
            </small>
            <Picture picture={decision.picture} />
          </li>
        ))}
      </ul>
    </>
  );
}

/** The cases of Drift that frames of the batch belong to. */
function ExplainedBy({ cases, mayOpen }: Readonly<{ cases: readonly CaseOfBatch[]; mayOpen: boolean }>) {
  if (cases.length === 0) return null;
  return (
    <>
      <SectionHeading>{words.explainedBy}</SectionHeading>
      <ul>
        {cases.map(({ id, number, found }) => {
          const text = words.caseOf(number, caseHeadline(found));
          return <li key={id}>{mayOpen ? <Link href={`/drift/cases/${id}`}>{text}</Link> : text}</li>;
        })}
      </ul>
    </>
  );
}

export default async function BatchPageView({ params }: PageProps<"/gate/batches/[key]">) {
  const key = addressPart((await params).key);
  const viewer = await requireViewer(`/gate/batches/${encodeURIComponent(key)}`, "gate.view");
  const batch = await findBatch(viewer, key);
  const { plantZone: zone } = viewer;
  const [cases, sample] = await Promise.all([casesOfBatch(viewer, batch.id), findBatchSample(viewer, batch)]);
  const openFrames = batch.frames.filter(({ state }) => state !== "in_measurement" && isState(state, OPEN_STATES));
  const mayDecide = mayDo(viewer, "gate.decide");
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        titleBlock={
          <TitleBlock
            cells={[
              { label: words.drawing, value: `${batch.drawing}, ${batch.drawingTitle}` },
              { label: words.line, value: batch.line, code: true },
              { label: words.model, value: batch.model },
              { label: words.plan, value: batch.plan },
              {
                label: words.decisionRule,
                value: batch.decisionRule === null ? words.noneYet : DECISION_RULE_WORDS[batch.decisionRule],
              },
              { label: words.evidenceAsOf, value: formatMoment(batch.asOf, { zone }) },
            ]}
          />
        }
      >
        <BatchHead batch={batch} zone={zone} />
        <div className={styles.columns}>
          <div>
            {batch.was === null ? (
              <ReasonList reasons={batch.decision.reasons} notes={batch.decision.notes} />
            ) : (
              <ReasonList
                reasons={batch.was.reasons}
                notes={batch.was.notes}
                past={GATE_WORDS.reasons.whatWasAgainst(
                  batch.was.at === null ? null : formatMoment(batch.was.at, { zone }),
                )}
              />
            )}
            <SampleSection
              sample={sample}
              href={`/gate/sampling?${new URLSearchParams({ supplier: batch.supplierKey, model: batch.modelKey })}`}
            />
            <ExplainedBy cases={cases} mayOpen={mayDo(viewer, "drift.view")} />
            <CauseList cause={batch.cause} />
            <Decisions batch={batch} zone={zone} />
            <JournalLink viewer={viewer} name={batch.key} />
          </div>
          <div>
            <SectionHeading aside={shownWords(batch)}>{words.theFrames}</SectionHeading>
            {groupsOf(batch.frames).map(([mould, frames]) => (
              <div key={mould ?? ""} className={styles.group}>
                {mould === null ? null : <h3>{words.mouldCavity(mould)}</h3>}
                <FrameCells
                  frames={cellsOf(frames, batch.shownOf?.unit ?? null)}
                  label={mould === null ? words.framesOfBatch : words.framesOfCavity(mould)}
                />
              </div>
            ))}
            {mayDecide && batch.state !== "gone" ? (
              <div className="noPrint">
                <Sheet decision label={words.decision}>
                  <DecisionForm
                    batchId={batch.id}
                    version={batch.version}
                    held={batch.state === "held"}
                    mayConcede={mayDo(viewer, "gate.concede")}
                    atRisk={batch.decision.reasons.some(({ code }) => RISKS.includes(code))}
                    openReasons={batch.decision.reasons.length}
                    causeSide={batch.cause.side}
                    frames={openFrames.map((frame) => ({
                      serial: frame.serial,
                      state: frame.state,
                      verdict: frame.verdict,
                    }))}
                  />
                </Sheet>
              </div>
            ) : null}
          </div>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
