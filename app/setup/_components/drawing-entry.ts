import { toDecimals } from "@/lib/core/numerics/decimal-digits";
import { z } from "zod";
import {
  CHARACTERISTIC_NAMES,
  type CharacteristicName,
  type DecisionRule,
  type Material,
  type ShellDrawing,
} from "@/lib/core/metrology/shell-drawing";
import { materialSchema, shellDrawingSchema } from "@/lib/schemas/drawing";
import { readTypedNumber } from "@/lib/schemas/typed-number";
import { DRAWING_WORDS } from "../words/drawings";

const words = DRAWING_WORDS.entry;

/** A drawing while it is typed: every number as its text, under the place that the drawing has it in. */
export type DrawingEntry = {
  readonly texts: Readonly<Record<string, string>>;
  readonly invented: boolean;
  readonly decisionRule: DecisionRule;
  readonly shellMaterial: Material;
  /** Null where the bearing sits straight in the shell. */
  readonly cupMaterial: Material | null;
  readonly characteristics: readonly { readonly name: CharacteristicName; readonly critical: boolean }[];
};

const LENGTHS = [
  "nominalBoreMm",
  "seatDepthMm",
  "widthMm",
  "shellOutsideDiameterMm",
  "faceOutsideDiameterMm",
  "faceSweepDiameterMm",
  "faceLimitDiameterMm",
] as const;
const BEARING_LENGTHS = ["boreMm", "outsideDiameterMm", "widthMm", "ballDiameterMm"] as const;
const LIMITS = ["lower", "upper", "target", "uncertainty"] as const;

const text = (value: number | null | undefined): string => (value === null || value === undefined ? "" : String(value));

/** The form of a drawing that is there. */
export function toDrawingEntry(drawing: ShellDrawing): DrawingEntry {
  const { bearing, cup } = drawing.carries;
  const texts: Record<string, string> = {
    key: drawing.key,
    title: drawing.title,
    revision: drawing.revision,
    fullPlanDepthsMm: drawing.fullPlanDepthsMm.join("; "),
    nonconformingFractionLimit: text(toDecimals(drawing.nonconformingFractionLimit * 100, 6)),
    "carries.bearing.designation": bearing.designation,
    "carries.bearing.clearanceClass": bearing.clearanceClass,
    "carries.bearing.clearanceUm.0": text(bearing.clearanceUm[0]),
    "carries.bearing.clearanceUm.1": text(bearing.clearanceUm[1]),
    "carries.bearing.outsideDeviationUm.0": text(bearing.outsideDeviationUm[0]),
    "carries.bearing.outsideDeviationUm.1": text(bearing.outsideDeviationUm[1]),
    "carries.cup.outsideDiameterMm": text(cup?.outsideDiameterMm),
    "carries.cup.wallMm": text(cup?.wallMm),
    "carries.cup.outsideDeviationUm.0": text(cup?.outsideDeviationUm[0]),
    "carries.cup.outsideDeviationUm.1": text(cup?.outsideDeviationUm[1]),
  };
  for (const name of LENGTHS) texts[name] = text(drawing[name]);
  for (const name of BEARING_LENGTHS) texts[`carries.bearing.${name}`] = text(bearing[name]);
  for (const one of drawing.characteristics)
    for (const limit of LIMITS) texts[`characteristics.${one.name}.${limit}`] = text(one[limit]);
  return {
    texts,
    invented: drawing.invented,
    decisionRule: drawing.decisionRule,
    shellMaterial: drawing.shellMaterial,
    cupMaterial: cup?.material ?? null,
    characteristics: drawing.characteristics.map(({ name, critical }) => ({ name, critical })),
  };
}

const entrySchema = z.strictObject({
  texts: z.record(z.string().max(100), z.string().max(300)),
  invented: z.boolean(),
  decisionRule: z.enum(["guard-u", "guard-1.65uc", "simple"]),
  shellMaterial: materialSchema,
  cupMaterial: materialSchema.nullable(),
  characteristics: z.array(z.strictObject({ name: z.enum(CHARACTERISTIC_NAMES), critical: z.boolean() })),
});

/** Reads the texts as numbers; each that is none is a problem at its place. */
function toDrawing(entry: z.output<typeof entrySchema>, context: z.RefinementCtx): unknown {
  const { texts, cupMaterial } = entry;
  const typed = (path: string): string => (texts[path] ?? "").trim();
  const refuse = (path: string, message: string): void =>
    context.addIssue({ code: "custom", path: path.split("."), message });
  const number = (path: string): number => {
    const value = readTypedNumber(typed(path));
    if (value === null) refuse(path, typed(path) === "" ? words.mustBeGiven : words.mustBeNumber);
    return value ?? 0;
  };
  const optional = (path: string): number | null => (typed(path) === "" ? null : number(path));
  const lengths = (names: readonly string[], under = "") =>
    Object.fromEntries(names.map((name) => [name, number(`${under}${name}`)]));
  const pair = (path: string) => [number(`${path}.0`), number(`${path}.1`)];
  const depths = typed("fullPlanDepthsMm")
    .split(/[;\s]+/)
    .filter((part) => part !== "")
    .map((part) => readTypedNumber(part));
  if (depths.length === 0 || depths.includes(null)) refuse("fullPlanDepthsMm", words.mustBeNumbers);
  return {
    key: typed("key"),
    title: typed("title"),
    revision: typed("revision"),
    invented: entry.invented,
    ...lengths(LENGTHS),
    shellMaterial: entry.shellMaterial,
    fullPlanDepthsMm: depths,
    decisionRule: entry.decisionRule,
    nonconformingFractionLimit: number("nonconformingFractionLimit") / 100,
    characteristics: entry.characteristics.map(({ name, critical }) => ({
      name,
      critical,
      lower: optional(`characteristics.${name}.lower`),
      upper: optional(`characteristics.${name}.upper`),
      target: optional(`characteristics.${name}.target`),
      uncertainty: number(`characteristics.${name}.uncertainty`),
    })),
    carries: {
      bearing: {
        designation: typed("carries.bearing.designation"),
        clearanceClass: typed("carries.bearing.clearanceClass"),
        ...lengths(BEARING_LENGTHS, "carries.bearing."),
        clearanceUm: pair("carries.bearing.clearanceUm"),
        outsideDeviationUm: pair("carries.bearing.outsideDeviationUm"),
      },
      cup:
        cupMaterial === null
          ? null
          : {
              ...lengths(["outsideDiameterMm", "wallMm"], "carries.cup."),
              outsideDeviationUm: pair("carries.cup.outsideDeviationUm"),
              material: cupMaterial,
            },
    },
  };
}

/** The form of a drawing, read as the drawing. */
export const drawingEntrySchema = entrySchema.transform(toDrawing).pipe(shellDrawingSchema);

/** The place in the form that a problem's path means: characteristics go by their name there. */
export function placeOf(path: string, entry: DrawingEntry): string {
  const plain = path
    .replaceAll(/\[(\d+)\]/g, ".$1")
    .replace(/^entry\./, "")
    .replace(/^fullPlanDepthsMm\..*/, "fullPlanDepthsMm");
  return plain.replace(/^characteristics\.(\d+)/, (whole, place: string) => {
    const name = entry.characteristics[Number(place)]?.name;
    return name === undefined ? whole : `characteristics.${name}`;
  });
}

/** The revision that follows: A -> B, Z -> AA, 3 -> 4; anything else gets a figure behind it. */
export function nextRevision(revision: string): string {
  if (/^\d+$/.test(revision)) return String(Number(revision) + 1);
  if (!/^[A-Z]+$/.test(revision)) return `${revision}-2`;
  const letters = [...revision];
  for (let place = letters.length - 1; place >= 0; place -= 1) {
    const letter = letters[place] ?? "A";
    if (letter !== "Z") {
      letters[place] = String.fromCharCode(letter.charCodeAt(0) + 1);
      return letters.join("");
    }
    letters[place] = "A";
  }
  return `A${letters.join("")}`;
}
