import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { z } from "zod";
import { CORE_VERSION } from "@/lib/core/version";
import { AppError } from "@/lib/errors";
import { formatDirection, formatOclock } from "@/lib/format/clock-text";
import { formatMoment } from "@/lib/format/date-text";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { formatBounds, formatLimits, formatUncertainty, formatValue } from "@/lib/format/number-text";
import { formatDepth } from "@/lib/format/reading-text";
import { measurementDoubt } from "@/lib/format/measurement-doubts";
import { briefReason, verdictReason, verdictTitle } from "@/lib/format/verdict-reasons";
import { parseReadingName, type BarPassage, type PlugFeel } from "@/lib/core/metrology/reading-name";
import { feltOf as feltFromWords } from "@/lib/quality/felt-evidence";
import { type ToldFrameMeaning, toldFrameMeaning } from "@/lib/format/meaning-words";
import { frameMeaning } from "@/lib/quality/frame-meaning";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getFrameRecord, MOST_HISTORY, type FrameRecord } from "@/lib/server/frames/queries";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { FRAME_STATE_WORDS } from "@/lib/format/frame-state-words";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { MeaningList } from "@/lib/ui/meaning-list";
import { OffsetDrawing } from "@/lib/ui/offset-drawing";
import { PageFrame, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { VerdictBanner } from "@/lib/ui/verdict-banner";
import { keepWhole } from "@/lib/ui/keep-whole";
import { frameMeaningRows } from "../../_components/frame-meaning-rows";
import { JournalLink } from "../../_components/journal-link";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { Disagreement } from "./_components/disagreement";
import { FormAndContact } from "./_components/form-and-contact";
import { InspectionReadings } from "./_components/inspection-readings";
import { FRAME_WORDS } from "../words";
import styles from "./frame.module.css";

const words = FRAME_WORDS.record;

export async function generateMetadata({ params }: PageProps<"/frames/[serial]">): Promise<Metadata> {
  return { title: words.frame(addressPart((await params).serial)) };
}

const searchSchema = z.object({ page: z.coerce.number().int().min(1).optional().catch(undefined) });

async function findRecord(viewer: PersonViewer, serial: string, page: number | undefined): Promise<FrameRecord> {
  try {
    return await getFrameRecord(viewer, serial, page);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

function Reasons({ record }: Readonly<{ record: FrameRecord }>) {
  const { judgement, drawing } = record;
  if (judgement === null || drawing === null) return null;
  const bad = judgement.characteristics.filter((one) => one.verdict !== "conforms");
  const options = { decisionRule: drawing.decisionRule, side: "ds" } as const;
  return (
    <>
      <SectionHeading aside={record.judgedOn > 1 ? words.inspectionsTogether(record.judgedOn) : undefined}>
        {words.why}
      </SectionHeading>
      <ul className={styles.reasons}>
        {bad.map((one) => (
          <li key={`${one.name} ${one.seat}`}>
            <StateMark state={one.verdict} size="m" wordBeside />
            <div>
              <b>{verdictTitle(one)}</b>
              <p>{verdictReason(one, options)}</p>
            </div>
          </li>
        ))}
        {judgement.uncovered.map((one) => (
          <li key={`uncovered ${one.name} ${one.seat}`}>
            <StateMark state="not measured" size="m" wordBeside />
            <div>
              <b>
                {one.seat === null ? "" : `${one.seat.toUpperCase()} `}
                {one.name}
              </b>
              <p>{words.criticalOnDrawing(one.reason)}</p>
            </div>
          </li>
        ))}
        {bad.length === 0 ? (
          <li>
            <StateMark state="conforms" size="m" wordBeside />
            <p>{words.everyCharacteristicLiesInsideLimits}</p>
          </li>
        ) : null}
      </ul>
    </>
  );
}

/** A reading's name, a direction or a position as people say it. */
function whereText(at: string | null): string {
  if (at === null) return "";
  const name = parseReadingName(at);
  if (name.ok && name.value.kind === "bore")
    return `${formatDirection(name.value.directionDeg, "ds")}, ${formatDepth(name.value.depthMm)}`;
  if (name.ok && name.value.kind === "width") return formatOclock(name.value.clockDeg, "ds");
  return /^\d+(:\d+)?$/.test(at) ? `${at} o’clock` : at;
}

function characteristicValue({ value, unit, verdict, smallest, largest, bounds }: ToldCharacteristic): string {
  // What a part of the readings gives is no result.
  if (verdict === "not measured") return "not measured";
  if (smallest !== undefined && largest !== undefined && smallest !== largest)
    return words.toLargest(formatValue(smallest, unit).replace(/\s.*$/u, ""), formatValue(largest, unit));
  if (value !== null) return formatValue(value, unit);
  return bounds === undefined ? words.offScale : formatBounds(bounds, unit);
}

const CHARACTERISTIC_COLUMNS: readonly TableColumn<ToldCharacteristic>[] = [
  { key: "verdict", label: words.result, cell: ({ verdict }) => <StateMark state={verdict} /> },
  {
    key: "name",
    label: words.characteristic,
    cell: ({ name, critical }) => (
      <span className={styles.name}>
        {name}
        {critical ? <small> {words.critical}</small> : null}
      </span>
    ),
  },
  { key: "seat", label: words.seat, cell: ({ seat }) => seat?.toUpperCase() ?? "" },
  { key: "value", label: words.value, kind: "numeric", cell: characteristicValue },
  {
    key: "limits",
    label: words.limits,
    kind: "numeric",
    cell: ({ lower, upper, unit }) => formatLimits(lower, upper, unit),
  },
  {
    key: "u",
    label: words.uK2,
    kind: "numeric",
    cell: ({ uncertainty, unit }) => formatUncertainty(uncertainty, unit),
  },
  { key: "at", label: words.where, cell: ({ at }) => <span className={styles.name}>{whereText(at)}</span> },
];

function Characteristics({ record }: Readonly<{ record: FrameRecord }>) {
  if (record.judgement === null) return null;
  return (
    <DataTable
      caption={words.characteristics}
      rowHead="name"
      columns={CHARACTERISTIC_COLUMNS}
      rows={record.judgement.characteristics}
      rowKey={({ name, seat }) => `${name} ${seat}`}
    />
  );
}

/** Plugs and bar of the newest valid inspection, as evidence beside the gauges. */
function feltOf(record: FrameRecord) {
  const { plugs, bars } = (record.newest?.attributes ?? {}) as {
    plugs?: Record<string, PlugFeel>;
    bars?: Record<string, BarPassage>;
  };
  return feltFromWords({ plugs, bars });
}

function meaningOf(record: FrameRecord): ToldFrameMeaning | null {
  const { drawing, measurement } = record;
  if (drawing === null || measurement === null) return null;
  return toldFrameMeaning(frameMeaning(drawing, { measurement, ...feltOf(record) }));
}

function Meaning({ meaning }: Readonly<{ meaning: ToldFrameMeaning | null }>) {
  if (meaning === null) return null;
  const evidence = meaning.evidence.sentences;
  return (
    <>
      <SectionHeading aside={words.estimates20CMakersLimits}>{words.whatMeans}</SectionHeading>
      {evidence.length > 0 ? (
        <ul className={styles.doubts}>
          {evidence.map((sentence) => (
            <li key={sentence}>{sentence}</li>
          ))}
        </ul>
      ) : null}
      <MeaningList rows={frameMeaningRows(meaning)} note={meaning.note} />
    </>
  );
}

function Shell({ record }: Readonly<{ record: FrameRecord }>) {
  const { drawing, measurement, judgement } = record;
  const swept = measurement?.swept[0];
  const towards12Um = measurement?.features["offset.12"].value;
  const towards3Um = measurement?.features["offset.3"].value;
  if (drawing === null || !swept || typeof towards12Um !== "number" || typeof towards3Um !== "number") return null;
  const coaxiality = judgement?.characteristics.find((one) => one.name === "coaxiality");
  const mean = (seat: "ds" | "nds") => measurement?.features[`${seat}.bore.mean`].value;
  const means = Object.fromEntries(
    (["ds", "nds"] as const).flatMap((seat) => {
      const value = mean(seat);
      return typeof value === "number" ? [[seat, value]] : [];
    }),
  );
  return (
    <Sheet label={words.shellWithOffsetOfAxes}>
      <OffsetDrawing
        drawing={drawing}
        offset={{
          towards12Um,
          towards3Um,
          slope12UmPerMm: swept.slope12,
        }}
        zoneUm={measurement?.features.coaxiality.value ?? 0}
        limitUm={coaxiality?.upper ?? null}
        conforms={coaxiality?.verdict === "conforms"}
        meansMm={means}
      />
    </Sheet>
  );
}

const DAY_MS = 86_400_000;

/** A day on which the journal cannot have said anything of this frame yet, so that a search begins there. */
function dayBefore({ inspections, page }: FrameRecord): { readonly from?: string } {
  const first = page > 1 ? undefined : inspections.map((one) => one.recordedAt).sort()[0];
  return first === undefined ? {} : { from: new Date(Date.parse(first) - DAY_MS).toISOString().slice(0, 10) };
}

function History({ record, viewer }: Readonly<{ record: FrameRecord; viewer: PersonViewer }>) {
  const { plantZone: zone } = viewer;
  const entries = [
    ...record.inspections.map((one) => ({
      at: one.recordedAt,
      what: words.inspectionRecorded(one.ordinal, one.verdict),
      who: one.inspector,
      text: words.measured(formatMoment(one.measuredAt, { zone }), one.reason === null ? "" : `; ${one.reason}`),
    })),
    ...record.inspections.flatMap((one) =>
      one.withdrawal === null
        ? []
        : [
            {
              at: one.withdrawal.at,
              what: words.inspectionWithdrawn(one.ordinal),
              who: one.withdrawal.person,
              text: one.withdrawal.reason,
            },
          ],
    ),
    ...record.history.map((one) => ({ ...one, what: one.what.replaceAll("_", " ") })),
    ...record.escapes.map((one) => ({ at: one.openedAt, what: words.escapeOpened, who: null, text: one.reason })),
  ].sort((a, b) => a.at.localeCompare(b.at));
  return (
    <>
      <SectionHeading
        aside={record.history.length === MOST_HISTORY ? words.newestDecisionsAndShipScans(MOST_HISTORY) : undefined}
      >
        {words.history}
      </SectionHeading>
      {entries.length === 0 ? <p className="soft">{words.nothingWasDoneWithYet}</p> : null}
      <ol className={styles.history}>
        {entries.map((entry) => (
          <li key={`${entry.at} ${entry.what}`}>
            <time className="nowrap" dateTime={entry.at}>
              {formatMoment(entry.at, { zone })}
            </time>
            <b>{entry.what}</b>
            <span>
              {keepWhole(entry.text)}
              {entry.who === null ? "" : ` (${entry.who})`}
            </span>
          </li>
        ))}
      </ol>
      <JournalLink viewer={viewer} name={record.serial} {...dayBefore(record)} />
    </>
  );
}

/** Which inspections are shown, and the way to the others. */
function InspectionPages({
  record: { serial, page, pages, inspectionCount, inspections },
}: Readonly<{ record: FrameRecord }>) {
  if (pages === 1) return null;
  const links = [
    { label: words.oldest, to: 1 },
    { label: words.older, to: page - 1 },
    { label: words.newer, to: page + 1 },
    { label: words.newest, to: pages },
  ].filter(({ to }) => to >= 1 && to <= pages && to !== page);
  const kept = links.filter(({ to }, index) => links.findIndex((one) => one.to === to) === index);
  return (
    <>
      <SectionHeading aside={words.ofShownPageOf(inspections.length, inspectionCount, page, pages)}>
        {words.inspections}
      </SectionHeading>
      <FilterNav label={words.pagesOfInspections}>
        {kept.map(({ label, to }) => (
          <Link key={label} href={`/frames/${encodeURIComponent(serial)}?page=${to}`}>
            {label}
          </Link>
        ))}
      </FilterNav>
    </>
  );
}

/** Who measured; several where the inspector changed half way. */
function inspectorsOf({ readings, inspector }: FrameRecord["inspections"][number]): string {
  const names = [...new Set(readings.flatMap((one) => one.inspector ?? []))];
  return names.length > 0 ? names.join(", ") : (inspector ?? words.notNamed);
}

/** By which version the stored verdict was made, and where this page, computed by the present one, differs. */
function judgedByText({ judgedBy, verdict, judgement }: FrameRecord): string {
  if (judgement === null) return words.notYetJudged;
  const by = judgedBy ?? words.beforeVersionsWereKept;
  if (judgedBy === CORE_VERSION) return by;
  const now = judgement.verdict === verdict ? "" : words.storedAs(verdict ?? words.notMeasured);
  return words.pageBy(by, CORE_VERSION, now);
}

function finding(record: FrameRecord): string | undefined {
  const worst = record.judgement?.characteristics.find((one) => one.verdict === record.judgement?.verdict);
  if (!worst || worst.verdict === "conforms") return undefined;
  // A number well inside its limits under "not proven" would deny the headline: then the doubt is what was found.
  if (worst.verdict === "not proven" && worst.reason !== undefined)
    return `${verdictTitle(worst)}: ${briefReason(worst.reason, { side: "ds" })}`;
  const inMm = worst.name === "coaxiality" || worst.name === "face run-out";
  const limit =
    inMm && worst.upper !== null
      ? `${worst.name === "coaxiality" ? "ø " : ""}${formatValue(worst.upper / 1000, "mm")}`
      : formatLimits(worst.lower, worst.upper, worst.unit);
  return words.limit(verdictTitle(worst), limit);
}

export default async function FramePage({ params, searchParams }: PageProps<"/frames/[serial]">) {
  const serial = addressPart((await params).serial);
  const viewer = await requireViewer(`/frames/${encodeURIComponent(serial)}`, "records.view");
  const { page } = searchSchema.parse(await searchParams);
  const record = await findRecord(viewer, serial, page);
  const { plantZone: zone } = viewer;
  const verdict = record.judgement?.verdict ?? "not measured";
  const count = (word: string) => record.judgement?.characteristics.filter((one) => one.verdict === word).length ?? 0;
  const doubts = record.measurement?.warnings ?? [];
  const last = record.newest ?? record.inspections.at(-1);
  const meaning = meaningOf(record);
  return (
    <WorkPage viewer={viewer}>
      <PageFrame
        titleBlock={
          <TitleBlock
            projection
            cells={[
              {
                label: words.drawing,
                value:
                  record.drawing === null
                    ? words.noneYet
                    : words.revision(
                        record.drawing.key,
                        record.drawing.revision,
                        record.drawing.invented ? words.limitsAreProposal : "",
                      ),
              },
              {
                label: words.decisionRule,
                value: record.drawing === null ? words.noneYet : DECISION_RULE_WORDS[record.drawing.decisionRule],
              },
              { label: words.gauges, value: last?.gauges.join(", ") || words.noneNamed, code: true },
              { label: words.inspector, value: last === undefined ? words.noneYet : inspectorsOf(last) },
              { label: words.lineStation, value: last === undefined ? record.line : `${last.line}, ${last.station}` },
              { label: words.judgedByVersion, value: judgedByText(record) },
              {
                label: words.measuredLabel,
                value: last === undefined ? words.notYet : formatMoment(last.measuredAt, { zone }),
              },
            ]}
          />
        }
      >
        <header className={styles.head}>
          <h2 className="mono">{record.serial}</h2>
          <p>
            <StateMark state={FRAME_STATE_WORDS[record.state]} />{" "}
            {words.inBatch(
              <Link href={`/gate/batches/${encodeURIComponent(record.batch.key)}`} className="mono">
                {record.batch.key}
              </Link>,
              record.batch.supplier,
              record.batch.model,
              record.mould === null ? "" : words.mouldCavity(record.mould),
              record.batch.held ? words.whichIsHeld : "",
            )}
          </p>
        </header>
        {record.inspections.length === 0 ? (
          <EmptyState title={words.frameHasNotBeenMeasured}>
            {record.leaseDeviceId === null
              ? words.scanAtStationUnderLine
              : words.isBeingMeasuredOn(record.leaseDeviceId)}
          </EmptyState>
        ) : (
          <>
            <VerdictBanner
              state={verdict}
              {...(finding(record) === undefined ? {} : { finding: finding(record) })}
              counts={[
                { count: count("does not conform"), word: words.doesNotConform },
                { count: count("not proven"), word: words.notProven },
                { count: count("conforms"), word: words.conform },
              ]}
            />
            <div className={styles.columns}>
              <Shell record={record} />
              <div>
                <Reasons record={record} />
                {record.disagreeing.length > (record.contradicting.length > 0 ? 0 : 1) && record.state !== "shipped" ? (
                  <Disagreement
                    serial={record.serial}
                    contradicting={record.contradicting}
                    inspections={record.disagreeing}
                    mayDecide={mayDo(viewer, "gate.decide")}
                  />
                ) : null}
                {doubts.length > 0 && record.drawing !== null ? (
                  <ul className={styles.doubts}>
                    {doubts.map((doubt, index) => (
                      <li key={index}>{measurementDoubt(doubt, record.readingNames, "ds")}</li>
                    ))}
                  </ul>
                ) : null}
              </div>
              <div className={styles.meaning}>
                <Meaning meaning={meaning} />
              </div>
              <div className={styles.table}>
                <Characteristics record={record} />
              </div>
            </div>
            {meaning === null ? null : <FormAndContact record={record} meaning={meaning} />}
            <InspectionPages record={record} />
            {record.inspections.map((one) => (
              <InspectionReadings
                key={one.id}
                inspection={one}
                zone={zone}
                mayWithdraw={mayDo(viewer, "line.withdraw")}
              />
            ))}
          </>
        )}
        <History record={record} viewer={viewer} />
      </PageFrame>
    </WorkPage>
  );
}
