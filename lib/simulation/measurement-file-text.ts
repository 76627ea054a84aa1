import { plainDecimals } from "@/lib/core/numerics/decimal-digits";
import { formatReadingName, type ReadingName } from "../core/metrology/reading-name";
import type { Separator } from "../schemas/measurement-file/csv-records";
import { csvRow } from "../schemas/csv-row";

/** One measured frame as a measurement file lays it down. */
export type FileFrame = {
  readonly serial: string;
  readonly batch: string;
  readonly line: string;
  readonly drawing: string;
  readonly operation: string;
  readonly supplier: string;
  readonly mould: string;
  readonly tool: string;
  readonly fixture: string;
  readonly measuredAt: string;
  readonly inspector: string;
  readonly gauge: string;
  readonly temperatureC: number;
  readonly readings: readonly (number | null)[];
};

export type FileStyle = {
  readonly shape: "row per frame" | "row per reading";
  readonly separator: Separator;
  readonly decimalComma: boolean;
  /** Starts with a byte order mark, as some spreadsheets write it. */
  readonly byteOrderMark: boolean;
};

const FIXED_HEADER = [
  "serial",
  "batch",
  "line",
  "drawing",
  "operation",
  "supplier",
  "mould",
  "tool",
  "fixture",
  "measured_at",
  "inspector",
  "gauge.bore",
  "temperature_c",
];

function decimals(name: ReadingName, boreDecimals: number): number {
  if (name.kind === "bore") return boreDecimals;
  return name.kind === "width" ? 3 : 1;
}

/**
 * The text of a measurement file, row by row in the order of the frames.
 *
 * @param names - the readings of every frame, in order
 */
export function measurementFileText(
  names: readonly ReadingName[],
  frames: readonly FileFrame[],
  style: FileStyle,
): string {
  const number = (value: number, digits: number) =>
    style.decimalComma ? plainDecimals(value, digits).replace(".", ",") : plainDecimals(value, digits);
  const fine = frames.some((frame) => frame.drawing === "press-fit-42");
  const cell = (value: number | null, index: number) => {
    const name = names[index];
    return value === null || !name ? "" : number(value, decimals(name, fine ? 4 : 3));
  };
  const fixed = (frame: FileFrame) => [
    frame.serial,
    frame.batch,
    frame.line,
    frame.drawing,
    frame.operation,
    frame.supplier,
    frame.mould,
    frame.tool,
    frame.fixture,
    frame.measuredAt,
    frame.inspector,
    frame.gauge,
    number(frame.temperatureC, 1),
  ];
  const headers = names.map(formatReadingName);
  const rows =
    style.shape === "row per frame"
      ? [[...FIXED_HEADER, ...headers], ...frames.map((frame) => [...fixed(frame), ...frame.readings.map(cell)])]
      : [
          [...FIXED_HEADER, "what", "value"],
          ...frames.flatMap((frame) =>
            frame.readings.map((value, index) => [...fixed(frame), headers[index] ?? "", cell(value, index)]),
          ),
        ];
  const text = rows.map((row) => `${csvRow(row, style.separator)}\r\n`).join("");
  return style.byteOrderMark ? `\ufeff${text}` : text;
}
