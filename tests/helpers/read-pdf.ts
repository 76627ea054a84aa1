import { inflateSync } from "node:zlib";

/**
 * What somebody copies out of a PDF, page by page: the strings that are shown, by the table that says which letter each glyph is
 * (ISO 32000-1, 9.10.3). Reads what pdfkit writes, which is all that is made here.
 */
export function textOfPdf(file: Buffer): readonly string[] {
  const raw = file.toString("latin1");
  const objects = new Map<number, string>();
  for (const [, number, body] of raw.matchAll(/(?:^|\n)(\d+) 0 obj\n([\s\S]*?)\nendobj/g))
    objects.set(Number(number), body ?? "");
  const streamOf = (body: string): string => {
    const [, content = ""] = /stream\n([\s\S]*?)\nendstream/.exec(body) ?? [];
    return /\/FlateDecode/.test(body) ? inflateSync(Buffer.from(content, "latin1")).toString("latin1") : content;
  };
  const letterOf = (hex: string): string => Buffer.from(hex.replaceAll(" ", ""), "hex").swap16().toString("utf16le");
  const glyphsOf = (body: string): ReadonlyMap<string, string> => {
    const map = new Map<string, string>();
    const [, reference] = /\/ToUnicode (\d+) 0 R/.exec(body) ?? [];
    const table = streamOf(objects.get(Number(reference)) ?? "");
    for (const [, from = "", , letters = ""] of table.matchAll(/<(\w+)> <(\w+)> \[([^\]]*)\]/g))
      [...letters.matchAll(/<([\w ]+)>/g)].forEach(([, letter = ""], index) =>
        map.set((parseInt(from, 16) + index).toString(16).padStart(4, "0"), letterOf(letter)),
      );
    return map;
  };
  const bodies = [...objects.values()];
  return bodies
    .filter((body) => /\/Type \/Page\b/.test(body))
    .map((page) => {
      const resources = objects.get(Number(/\/Resources (\d+) 0 R/.exec(page)?.[1])) ?? page;
      const fonts = new Map(
        [...resources.matchAll(/\/(F\d+) (\d+) 0 R/g)].map(([, name, object]) => [
          name,
          glyphsOf(objects.get(Number(object)) ?? ""),
        ]),
      );
      const content = streamOf(objects.get(Number(/\/Contents (\d+) 0 R/.exec(page)?.[1])) ?? "");
      let font: ReadonlyMap<string, string> = new Map();
      const shown: string[] = [];
      let line = "";
      for (const [, set, moved, text] of content.matchAll(/\/(F\d+) [\d.]+ Tf|([\d. -]+ Tm)|\[([^\]]*)\] TJ/g)) {
        if (set) font = fonts.get(set) ?? font;
        if (moved) {
          const [, , , , , at] = moved.split(" ");
          if (line !== at) shown.push("\n");
          line = at ?? "";
        }
        for (const [, glyphs = ""] of (text ?? "").matchAll(/<(\w*)>/g))
          for (const [glyph] of glyphs.matchAll(/.{4}/g)) shown.push(font.get(glyph) ?? "?");
      }
      return shown.join("").trim();
    });
}
