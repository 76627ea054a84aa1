import "server-only";
import { readFileSync } from "node:fs";
import type PDFDocument from "pdfkit";
import { type Face, filesOf } from "./faces";

type Document = InstanceType<typeof PDFDocument>;

/** A piece of text whose letters all stand in one font file. */
export type Run = { readonly text: string; readonly font: string };

type Loaded = { readonly key: string; readonly has: (codePoint: number) => boolean };

/** What no face has, said with letters that they have. */
const SAID_OTHERWISE: ReadonlyMap<string, string> = new Map([
  ["\u2264", "<="],
  ["\u2265", ">="],
  ["\u2192", "to"],
  ["\u2190", "from"],
  ["\u2260", "not"],
  ["\u00a0", " "],
  ["\u202f", " "],
  ["\u2009", " "],
]);
/** Stands where a letter is in none of the faces: it is seen that something is missing. */
const MISSING = "\u00bf";

/** The fonts of one document: each letter is written in the first file of its face that has it. */
export class Letters {
  private readonly loaded = new Map<Face, readonly Loaded[]>();

  constructor(private readonly document: Document) {}

  private filesOfFace(face: Face): readonly Loaded[] {
    const known = this.loaded.get(face);
    if (known !== undefined) return known;
    const made = filesOf(face).map((file, index): Loaded => {
      const key = `${face}${index}`;
      this.document.registerFont(key, readFileSync(file));
      this.document.font(key);
      // Not in the types of pdfkit: the font program that it reads letters with.
      const { font } = (
        this.document as unknown as { _font: { font: { hasGlyphForCodePoint(code: number): boolean } } }
      )._font;
      return { key, has: (codePoint) => font.hasGlyphForCodePoint(codePoint) };
    });
    this.loaded.set(face, made);
    return made;
  }

  /** A text in pieces, each with the font that has its letters. Control characters are left out. */
  runsOf(text: string, face: Face): readonly Run[] {
    const files = this.filesOfFace(face);
    const runs: { text: string; font: string }[] = [];
    const add = (letter: string, font: string): void => {
      const last = runs.at(-1);
      if (last?.font === font) last.text += letter;
      else runs.push({ text: letter, font });
    };
    for (const written of text.normalize("NFC"))
      for (const letter of SAID_OTHERWISE.get(written) ?? written) {
        const code = letter.codePointAt(0) ?? 0;
        if (code < 32 || (code >= 127 && code < 160)) continue;
        const file = files.find((one) => one.has(code));
        const [first] = files;
        if (file !== undefined) add(letter, letter === " " ? (runs.at(-1)?.font ?? file.key) : file.key);
        else if (first !== undefined) add(MISSING, first.key);
      }
    return runs;
  }

  /** Width of a text on one line, points. */
  widthOf(text: string, face: Face, size: number): number {
    return this.runsOf(text, face).reduce(
      (sum, run) => sum + this.document.font(run.font, size).widthOfString(run.text),
      0,
    );
  }

  /** Writes one line; `y` is its base line. */
  write(text: string, x: number, y: number, face: Face, size: number, colour: string): void {
    let left = x;
    for (const run of this.runsOf(text, face)) {
      this.document.font(run.font, size).fillColor(colour);
      this.document.text(run.text, left, y, { lineBreak: false, baseline: "alphabetic" });
      left += this.document.widthOfString(run.text);
    }
  }

  /** A text in lines that are no wider than `width`: broken between words, a word that is too long between letters. */
  linesOf(text: string, face: Face, size: number, width: number): readonly string[] {
    const lines: string[] = [];
    for (const paragraph of text.split("\n")) {
      let line = "";
      for (const word of paragraph.split(" ").flatMap((one) => this.partsOf(one, face, size, width))) {
        const longer = line === "" ? word : `${line} ${word}`;
        if (line !== "" && this.widthOf(longer, face, size) > width) {
          lines.push(line);
          line = word;
        } else line = longer;
      }
      lines.push(line);
    }
    return lines;
  }

  private partsOf(word: string, face: Face, size: number, width: number): readonly string[] {
    if (this.widthOf(word, face, size) <= width) return [word];
    const parts: string[] = [];
    let part = "";
    for (const letter of word) {
      if (part !== "" && this.widthOf(part + letter, face, size) > width) {
        parts.push(part);
        part = letter;
      } else part += letter;
    }
    return part === "" ? parts : [...parts, part];
  }
}
