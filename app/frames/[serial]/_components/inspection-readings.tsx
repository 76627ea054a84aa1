import { parseReadingName, type BarPassage, type PlugFeel } from "@/lib/core/metrology/reading-name";
import { formatMoment } from "@/lib/format/date-text";
import { formatFixed, withUnit } from "@/lib/format/number-text";
import { formatFelt, formatReadingInWords } from "@/lib/format/reading-text";
import type { ReadingState } from "@/lib/schemas/inspection";
import type { FrameInspection } from "@/lib/server/frames/queries";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { StateMark } from "@/lib/ui/state-mark";
import { keepWhole } from "@/lib/ui/keep-whole";
import { FRAME_WORDS } from "../../words";
import styles from "../frame.module.css";
import { WithdrawForm } from "./withdraw-form";

const words = FRAME_WORDS.readings;

const UNIT = { bore: "mm", width: "mm", sweep: "µm", face: "µm", plug: "", bar: "" } as const;

function wordText(word: PlugFeel | BarPassage | undefined, name: string): string {
  const reading = parseReadingName(name);
  return word === undefined ? "" : formatFelt(word, reading.ok ? reading.value : null, "ds");
}

/** Words of a plug or a bar, which have no number. */
function wordOf(inspection: FrameInspection, name: string): string {
  const { plugs, bars } = inspection.attributes as {
    plugs?: Record<string, PlugFeel>;
    bars?: Record<string, BarPassage>;
  };
  return wordText(plugs?.[name] ?? bars?.[name], name);
}

/** Why a reading was not taken, where somebody said so. */
function cannotText(inspection: FrameInspection, name: string): string {
  const { cannotReasons } = inspection.attributes as { cannotReasons?: Record<string, string> };
  const reason = cannotReasons?.[name];
  return reason === undefined ? "cannot" : words.cannot(reason);
}

function noValue(state: ReadingState | undefined): string {
  return state === "off-scale-large" || state === "off-scale-small" ? words.offScale : words.notTaken;
}

function stateText(inspection: FrameInspection, reading: string, state: ReadingState): string {
  switch (state) {
    case "measured":
      return "";
    case "cannot":
      return cannotText(inspection, reading);
    case "confirmed":
      return words.askedAboutAndConfirmed;
    case "off-scale-large":
      return words.tooLargeForGauge;
    case "off-scale-small":
      return words.tooSmallForGauge;
  }
}

type ReadingRow = Readonly<{
  name: string;
  what: string;
  value: string;
  state: string;
  earlier: string;
  gauge: string;
  inspector: string;
}>;

function readingRow(inspection: FrameInspection, index: number): ReadingRow {
  const reading = inspection.readings[index];
  const text = reading?.name ?? "";
  const name = parseReadingName(text);
  const unit = name.ok ? UNIT[name.value.kind] : "";
  const digits = unit === "mm" ? 3 : 1;
  const value = reading?.value ?? null;
  const earlier = inspection.superseded.filter((one) => one.index === index);
  return {
    name: text,
    what: name.ok ? formatReadingInWords(name.value, "ds") : text,
    value:
      value === null ? wordOf(inspection, text) || noValue(reading?.state) : withUnit(formatFixed(value, digits), unit),
    state: stateText(inspection, text, reading?.state ?? "measured"),
    earlier: earlier
      .map(
        (one) =>
          `${one.value === null ? wordText(one.word, text) || words.notTaken : formatFixed(one.value, digits)} (${one.reason}${one.inspector === null ? "" : words.keyedBy(one.inspector)})`,
      )
      .join("; "),
    gauge: reading?.gauge ?? "",
    inspector: reading?.inspector ?? "",
  };
}

const READING_COLUMNS: readonly TableColumn<ReadingRow>[] = [
  { key: "what", label: words.reading, cell: ({ what }) => what },
  { key: "value", label: words.value, kind: "numeric", cell: ({ value }) => value },
  { key: "state", label: words.remark, cell: ({ state }) => state },
  { key: "earlier", label: words.replacedValue, cell: ({ earlier }) => earlier },
  { key: "gauge", label: words.gauge, kind: "code", cell: ({ gauge }) => gauge },
  { key: "inspector", label: words.measuredBy, cell: ({ inspector }) => inspector },
  { key: "name", label: words.nameInFiles, kind: "code", cell: ({ name }) => name },
];

/** One inspection with every reading, also the values that were replaced while keying. */
export function InspectionReadings({
  inspection,
  zone,
  mayWithdraw,
}: Readonly<{ inspection: FrameInspection; zone: string; mayWithdraw: boolean }>) {
  const { ordinal, verdict, measuredAt, withdrawal, plan, planRevision, operation, attributes } = inspection;
  const remark = typeof attributes.remark === "string" ? attributes.remark : null;
  return (
    <details className={styles.readings}>
      <summary>
        {words.inspectionPlanRevision(
          ordinal,
          operation,
          keepWhole(formatMoment(measuredAt, { zone })),
          plan,
          planRevision,
        )}{" "}
        <StateMark state={verdict} />{" "}
        {withdrawal === null ? "" : words.withdrawnBy(withdrawal.person, withdrawal.reason)}
      </summary>
      {remark === null ? null : <p>{words.remarkRemark(remark)}</p>}
      {inspection.photos.length === 0 ? null : (
        <p>
          {inspection.photos.map((id, index) => (
            <a key={id} href={`/api/v1/attachments/${id}`}>
              <img
                src={`/api/v1/attachments/${id}`}
                alt={words.photoOfInspection(index + 1, ordinal)}
                height={160}
                loading="lazy"
              />
            </a>
          ))}
        </p>
      )}
      {attributes.firstOff === true ? <p>{words.firstOff}</p> : null}
      {typeof attributes.beforeRelease === "string" ? (
        <p>{words.measuredWhileLineWaited(attributes.beforeRelease)}</p>
      ) : null}
      {typeof attributes.otherLine === "string" ? (
        <p>{words.measuredAtLine(inspection.line, attributes.otherLine)}</p>
      ) : null}
      {attributes.outsidePlan === true ? <p>{words.planDidNotAsk}</p> : null}
      <DataTable
        caption={words.readingsOfInspection(ordinal)}
        captionHidden
        rowHead="what"
        columns={READING_COLUMNS.filter(
          ({ key }) => key !== "inspector" || inspection.readings.some((one) => one.inspector !== null),
        )}
        rows={inspection.readings.map((_, index) => readingRow(inspection, index))}
        rowKey={({ name }) => name}
      />
      {mayWithdraw && withdrawal === null ? <WithdrawForm id={inspection.id} /> : null}
    </details>
  );
}
