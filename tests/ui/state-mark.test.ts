import { existsSync } from "node:fs";
import path from "node:path";
import { createElement } from "react";
import { renderToStaticMarkup } from "react-dom/server";
import { describe, expect, it } from "vitest";
import { VERDICTS } from "@/lib/quality/verdict-words";
import { DataTable } from "@/lib/ui/data-table";
import { DockAnswer } from "@/lib/ui/dock-answer";
import { MARK_OF_STATE, StateMark, type MarkedState } from "@/lib/ui/state-mark";
import { parseTheme } from "@/lib/ui/theme";
import { WorkAreaRail } from "@/lib/ui/work-area-rail";
import { WORK_AREAS } from "@/lib/ui/work-areas";

const STATES = Object.keys(MARK_OF_STATE) as MarkedState[];

describe("state marks", () => {
  it("have a mark for every verdict, each a different one", () => {
    expect(new Set(VERDICTS.map((verdict) => MARK_OF_STATE[verdict])).size).toBe(VERDICTS.length);
  });
  it("always come with their word, seen or read aloud", () => {
    for (const state of STATES) {
      expect(renderToStaticMarkup(createElement(StateMark, { state }))).toContain(`<span>${state}</span>`);
      expect(renderToStaticMarkup(createElement(StateMark, { state, wordBeside: true }))).toContain(
        `aria-label="${state}"`,
      );
    }
  });
  it("carry no style attribute, so that a strict content policy holds", () => {
    for (const state of STATES)
      expect(renderToStaticMarkup(createElement(StateMark, { state }))).not.toContain("style=");
  });
});

describe("the dock's answer", () => {
  const props = {
    serial: "C41-04432",
    place: "dock 1",
    reasons: [{ title: "It does not conform" }],
    next: null,
    answered: "14:41:32",
  };
  it("says the word, the reason and when it was answered", () => {
    const stop = renderToStaticMarkup(createElement(DockAnswer, { ...props, answer: "stop" }));
    expect(stop).toContain("<h1>Stop</h1>");
    expect(stop).toContain("It does not conform");
    expect(stop).toContain("14:41:32");
    expect(renderToStaticMarkup(createElement(DockAnswer, { ...props, answer: "go" }))).toContain("<h1>Go</h1>");
  });
});

describe("tables", () => {
  it("give each value the label of its column, for rows that are cards, and the row its head", () => {
    const columns = [
      { key: "name", label: "gauge", cell: ({ name }: { readonly name: string }) => name },
      { key: "ring", label: "setting ring", kind: "code" as const, cell: () => "RG-41-1" },
    ];
    const html = renderToStaticMarkup(
      DataTable({ caption: "Gauges", columns, rows: [{ name: "BG-03" }], rowKey: ({ name }) => name, rowHead: "name" }),
    );
    expect(html).toMatch(/<th scope="row"[^>]*><span class="nowrap">BG-03<\/span><\/th>/);
    expect(html).toMatch(/<td data-label="setting ring"[^>]*><span class="nowrap">RG-41-1<\/span><\/td>/);
  });
});

describe("the rail", () => {
  it("has each area of the table and marks the one that is open", () => {
    const html = renderToStaticMarkup(
      createElement(WorkAreaRail, { theme: "device", current: "gate", areas: WORK_AREAS }),
    );
    for (const { href, key } of WORK_AREAS) {
      expect(html).toContain(`href="${href}"`);
      expect(existsSync(path.join(import.meta.dirname, "../../app", href, "page.tsx")), key).toBe(true);
    }
    expect(html.match(/aria-current="page"/g)).toHaveLength(1);
  });
  it("leaves away what is not a person's own", () => {
    const areas = WORK_AREAS.filter(({ key }) => key === "gate");
    const html = renderToStaticMarkup(createElement(WorkAreaRail, { theme: "device", areas }));
    expect(html).toContain('href="/gate"');
    expect(html).not.toMatch(/href="\/(line|drift|setup)"/);
  });
});

describe("the theme's cookie", () => {
  it("counts as no choice when it holds anything unknown", () => {
    expect([undefined, "", "night", "light", "<script>"].map(parseTheme)).toEqual([
      "device",
      "device",
      "night",
      "light",
      "device",
    ]);
  });
});
