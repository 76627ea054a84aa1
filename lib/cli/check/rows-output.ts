import { closeSync, openSync, renameSync, rmSync, writeSync } from "node:fs";
import type { ReadResult } from "@/lib/schemas/measurement-file/read-measurement-file";
import { csvRow } from "@/lib/schemas/csv-row";

const FLUSH_AT = 1 << 16;

type Part = { readonly add: (text: string) => void; readonly finish: () => void; readonly abandon: () => void };

/** A file that appears under its name only when it is complete. */
function openPart(path: string): Part {
  const unfinished = `${path}.part`;
  const file = openSync(unfinished, "w");
  let pending = "";
  const flush = () => {
    writeSync(file, pending);
    pending = "";
  };
  return {
    add(text) {
      pending += text;
      if (pending.length > FLUSH_AT) flush();
    },
    finish() {
      flush();
      closeSync(file);
      renameSync(unfinished, path);
    },
    abandon() {
      closeSync(file);
      rmSync(unfinished, { force: true });
    },
  };
}

/** Writes the good rows of a file to one file and the bad ones to another, with a column `error`. */
export type RowsOutput = {
  readonly header: (result: ReadResult) => void;
  readonly row: (cells: readonly string[], row: number, wrong: string | null) => void;
  readonly finish: () => void;
  readonly abandon: () => void;
};

/**
 * Splits the rows of a measurement file in its own shape and with its own separator. Cells that would start a formula are
 * made text.
 *
 * @param goodPath - gets the rows that were judged
 * @param badPath - gets the others, each with what is wrong; an `error` column that came with the file is replaced
 */
export function createRowsOutput(goodPath: string, badPath: string): RowsOutput {
  const good = openPart(goodPath);
  const bad = openPart(badPath);
  let separator: ReadResult["separator"] = ",";
  let width = 0;
  let errorAt = -1;

  const line = (cells: readonly string[]) => `${csvRow(cells, separator)}\r\n`;

  function withError(cells: readonly string[], text: string): string[] {
    const padded = [...cells, ...Array.from({ length: Math.max(0, width - cells.length) }, () => "")];
    if (errorAt >= 0) return padded.map((cell, index) => (index === errorAt ? text : cell));
    return [...padded.slice(0, width), text, ...padded.slice(width)];
  }

  return {
    header({ header, separator: found }) {
      separator = found;
      const cells = header?.cells ?? [];
      width = cells.length;
      errorAt = cells.indexOf("error");
      good.add(line(cells));
      bad.add(line(errorAt >= 0 ? cells : [...cells, "error"]));
    },
    row(cells, _row, wrong) {
      if (wrong === null) good.add(line(cells));
      else bad.add(line(withError(cells, wrong)));
    },
    finish() {
      good.finish();
      bad.finish();
    },
    abandon() {
      good.abandon();
      bad.abandon();
    },
  };
}
