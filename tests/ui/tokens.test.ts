import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";

const css = readFileSync(path.join(import.meta.dirname, "../../app/styles/tokens.css"), "utf8");

function tokenPairs(): ReadonlyMap<string, readonly [day: string, night: string]> {
  const pairs = [...css.matchAll(/--([\w-]+): light-dark\((#\w{6}), (#\w{6})\)/g)];
  return new Map(pairs.map((match) => [match[1] ?? "", [match[2] ?? "", match[3] ?? ""]]));
}

/** Contrast ratio of two sRGB colours: WCAG 2.2, definitions of "contrast ratio" and "relative luminance". */
function contrast(one: string, other: string): number {
  const luminance = (hex: string) => {
    const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
      const channel = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
      return channel <= 0.04045 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [light = 0, dark = 0] = [luminance(one), luminance(other)].sort((a, b) => b - a);
  return (light + 0.05) / (dark + 0.05);
}

const TEXT_ON_GROUND = ["ink", "ink-2", "ink-3", "blue", "ok-text", "maybe-text", "no-text", "signal-text"];
const WASHES = ["ok", "maybe", "no", "signal"];

describe("colours", () => {
  const tokens = tokenPairs();
  const at = (name: string, theme: 0 | 1) => tokens.get(name)?.[theme] ?? "#000000";
  it("knows black on white, as WCAG states it", () => {
    expect(contrast("#000000", "#ffffff")).toBe(21);
  });
  for (const theme of [0, 1] as const) {
    it(`gives every text 4.5:1 or more in the ${theme === 0 ? "day" : "night"} theme (WCAG 2.2, 1.4.3)`, () => {
      expect(tokens.size).toBeGreaterThan(20);
      for (const name of TEXT_ON_GROUND) {
        for (const ground of ["paper", "sheet"]) {
          expect(contrast(at(name, theme), at(ground, theme)), `${name} on ${ground}`).toBeGreaterThanOrEqual(4.5);
        }
      }
      for (const state of WASHES) {
        for (const text of [`${state}-text`, "ink"]) {
          expect(
            contrast(at(text, theme), at(`${state}-wash`, theme)),
            `${text} on ${state}-wash`,
          ).toBeGreaterThanOrEqual(4.5);
        }
      }
      expect(contrast(at("on-blue", theme), at("blue", theme))).toBeGreaterThanOrEqual(4.5);
    });
  }
});
