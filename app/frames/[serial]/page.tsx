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
import { StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { VerdictBanner } from "@/lib/ui/verdict-banner";
import { keepWhole } from "@/lib/ui/keep-whole";
import { frameMeaningRows } from "../../_components/frame-meaning-rows";
import { JournalLink } from "../../_components/journal-link";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { Disagreement } from "./_components/disagreement";
import { FormAndContact } from "./_components/form-and-contact";
import { InspectionReadings } from "./_components/inspection-readings";
import styles from "./frame.module.css";

export async function generateMetadata({ params }: PageProps<"/frames/[serial]">): Promise<Metadata> {
  return { title: `Frame ${addressPart((await params).serial)}` };
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
      <SectionHeading aside={record.judgedOn > 1 ? `${record.judgedOn} inspections together` : undefined}>
        Why
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
              <p>Critical on the drawing, not given by this plan: {one.reason}.</p>
            </div>
          </li>
        ))}
        {bad.length === 0 ? (
          <li>
            <StateMark state="conforms" size="m" wordBeside />
            <p>Every characteristic lies inside its limits by more than its uncertainty.</p>
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
    return `${formatValue(smallest, unit).replace(/\s.*$/u, "")} to ${formatValue(largest, unit)}`;
  if (value !== null) return formatValue(value, unit);
  return bounds === undefined ? "off the scale" : formatBounds(bounds, unit);
}

const CHARACTERISTIC_COLUMNS: readonly TableColumn<ToldCharacteristic>[] = [
  { key: "verdict", label: "result", cell: ({ verdict }) => <StateMark state={verdict} /> },
  {
    key: "name",
    label: "characteristic",
    cell: ({ name, critical }) => (
      <span className={styles.name}>
        {name}
        {critical ? <small> critical</small> : null}
      </span>
    ),
  },
  { key: "seat", label: "seat", cell: ({ seat }) => seat?.toUpperCase() ?? "" },
  { key: "value", label: "value", kind: "numeric", cell: characteristicValue },
  {
    key: "limits",
    label: "limits",
    kind: "numeric",
    cell: ({ lower, upper, unit }) => formatLimits(lower, upper, unit),
  },
  {
    key: "u",
    label: "U (k = 2)",
    kind: "numeric",
    cell: ({ uncertainty, unit }) => formatUncertainty(uncertainty, unit),
  },
  { key: "at", label: "where", cell: ({ at }) => <span className={styles.name}>{whereText(at)}</span> },
];

function Characteristics({ record }: Readonly<{ record: FrameRecord }>) {
  if (record.judgement === null) return null;
  return (
    <DataTable
      caption="Characteristics"
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
      <SectionHeading aside="estimates, 20 °C; makers' limits decide">What this means</SectionHeading>
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
    <Sheet label="The shell with the offset of its axes">
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
      what: `inspection ${one.ordinal} recorded: ${one.verdict}`,
      who: one.inspector,
      text: `measured ${formatMoment(one.measuredAt, { zone })}${one.reason === null ? "" : `; ${one.reason}`}`,
    })),
    ...record.inspections.flatMap((one) =>
      one.withdrawal === null
        ? []
        : [
            {
              at: one.withdrawal.at,
              what: `inspection ${one.ordinal} withdrawn`,
              who: one.withdrawal.person,
              text: one.withdrawal.reason,
            },
          ],
    ),
    ...record.history.map((one) => ({ ...one, what: one.what.replaceAll("_", " ") })),
    ...record.escapes.map((one) => ({ at: one.openedAt, what: "escape opened", who: null, text: one.reason })),
  ].sort((a, b) => a.at.localeCompare(b.at));
  return (
    <>
      <SectionHeading
        aside={
          record.history.length === MOST_HISTORY ? `the newest ${MOST_HISTORY} decisions and ship scans` : undefined
        }
      >
        History
      </SectionHeading>
      {entries.length === 0 ? <p className="soft">Nothing was done with it yet.</p> : null}
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
    { label: "oldest", to: 1 },
    { label: "older", to: page - 1 },
    { label: "newer", to: page + 1 },
    { label: "newest", to: pages },
  ].filter(({ to }) => to >= 1 && to <= pages && to !== page);
  const kept = links.filter(({ to }, index) => links.findIndex((one) => one.to === to) === index);
  return (
    <>
      <SectionHeading aside={`${inspections.length} of ${inspectionCount} shown, page ${page} of ${pages}`}>
        Inspections
      </SectionHeading>
      <FilterNav label="Pages of inspections">
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
  return names.length > 0 ? names.join(", ") : (inspector ?? "not named");
}

/** By which version the stored verdict was made, and where this page, computed by the present one, differs. */
function judgedByText({ judgedBy, verdict, judgement }: FrameRecord): string {
  if (judgement === null) return "not yet judged";
  const by = judgedBy ?? "before versions were kept";
  if (judgedBy === CORE_VERSION) return by;
  const now = judgement.verdict === verdict ? "" : `: stored as ${verdict ?? "not measured"}`;
  return `${by}; this page by ${CORE_VERSION}${now}`;
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
  return `${verdictTitle(worst)}, limit ${limit}`;
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
                label: "drawing",
                value:
                  record.drawing === null
                    ? "none yet"
                    : `${record.drawing.key}, revision ${record.drawing.revision}${record.drawing.invented ? " (limits are a proposal)" : ""}`,
              },
              {
                label: "decision rule",
                value: record.drawing === null ? "none yet" : DECISION_RULE_WORDS[record.drawing.decisionRule],
              },
              { label: "gauges", value: last?.gauges.join(", ") || "none named", code: true },
              { label: "inspector", value: last === undefined ? "none yet" : inspectorsOf(last) },
              { label: "line, station", value: last === undefined ? record.line : `${last.line}, ${last.station}` },
              { label: "judged by version", value: judgedByText(record) },
              { label: "measured", value: last === undefined ? "not yet" : formatMoment(last.measuredAt, { zone }) },
            ]}
          />
        }
      >
        <header className={styles.head}>
          <h2 className="mono">{record.serial}</h2>
          <p>
            <StateMark state={FRAME_STATE_WORDS[record.state]} /> in batch{" "}
            <Link href={`/gate/batches/${encodeURIComponent(record.batch.key)}`} className="mono">
              {record.batch.key}
            </Link>
            , {record.batch.supplier}, {record.batch.model}
            {record.mould === null ? "" : `, mould cavity ${record.mould}`}
            {record.batch.held ? ", which is held" : ""}
          </p>
        </header>
        {record.inspections.length === 0 ? (
          <EmptyState title="This frame has not been measured">
            {record.leaseDeviceId === null
              ? "Scan it at a station under Line; its record fills with the first reading."
              : `It is being measured on ${record.leaseDeviceId}.`}
          </EmptyState>
        ) : (
          <>
            <VerdictBanner
              state={verdict}
              {...(finding(record) === undefined ? {} : { finding: finding(record) })}
              counts={[
                { count: count("does not conform"), word: "does not conform" },
                { count: count("not proven"), word: "not proven" },
                { count: count("conforms"), word: "conform" },
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
