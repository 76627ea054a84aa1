import { CHARACTERISTIC_NAMES, CHARACTERISTIC_UNIT, type DecisionRule } from "@/lib/core/metrology/shell-drawing";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { unitText } from "@/lib/format/number-text";

const WORDS: Readonly<Record<string, string>> = {
  key: "key",
  title: "title",
  invented: "limits are a proposal",
  nominalBoreMm: "bore, nominal, mm",
  seatDepthMm: "seat depth, mm",
  widthMm: "shell width, mm",
  shellOutsideDiameterMm: "shell outside diameter, mm",
  faceOutsideDiameterMm: "face outside diameter, mm",
  faceSweepDiameterMm: "face indicator runs on diameter, mm",
  faceLimitDiameterMm: "face limit holds at diameter, mm",
  shellMaterial: "shell material",
  decisionRule: "decision rule",
  nonconformingFractionLimit: "nonconforming fraction of a sampled batch, at most",
  fullPlanDepthsMm: "measured section, depth in mm",
  characteristics: "",
  carries: "",
  bearing: "bearing",
  cup: "cup",
  lower: "lower limit",
  upper: "upper limit",
  target: "target",
  uncertainty: "U (k = 2)",
  critical: "critical",
  designation: "designation",
  boreMm: "bore, mm",
  outsideDiameterMm: "outside diameter, mm",
  wallMm: "wall, mm",
  ballDiameterMm: "ball diameter, mm",
  clearanceClass: "clearance class",
  clearanceUm: "radial clearance, µm, value",
  outsideDeviationUm: "outside deviation, µm, value",
  material: "material",
  youngsModulusGpa: "Young's modulus, GPa",
  poissonsRatio: "Poisson's ratio",
  expansionPerMegakelvin: "expansion, 1e-6/K",
  name: "name",
};

/** Limits of a characteristic, in its own unit. */
const LIMIT = /^characteristics\.([^.]+)\.(lower|upper|target|uncertainty)$/;
const LIMITED = /^characteristics\.([^.]+)\.name$/;

/** A place in a drawing in words: "characteristics.bore.upper" -> "bore, upper limit, mm". */
export function placeWords(path: string): string {
  if (path === "carries.bearing.widthMm") return "bearing, width, mm";
  const limited = LIMITED.exec(path)?.[1];
  if (limited !== undefined) return `${limited}, limited`;
  const of = CHARACTERISTIC_NAMES.find((name) => name === LIMIT.exec(path)?.[1]);
  const parts = path.split(".").map((part) => WORDS[part] ?? part);
  return [...parts, of === undefined ? "" : unitText(CHARACTERISTIC_UNIT[of])].filter((part) => part !== "").join(", ");
}

/** What stands there, in words. */
export function valueWords(path: string, value: string | number | boolean | null): string {
  if (LIMITED.test(path)) return value === null ? "no" : "yes";
  if (value === null) return "none";
  if (typeof value === "boolean") return value ? "yes" : "no";
  const text = String(value);
  return path === "decisionRule" && text in DECISION_RULE_WORDS ? DECISION_RULE_WORDS[text as DecisionRule] : text;
}
