import type { GaugeRange } from "../core/metrology/gauge-range";

/** The invented builder of the demonstration: everything of the plant that does not change from day to day. */
export const DEMO_PLANT = {
  key: "fennimoor",
  name: "Fennimoor Cycles (invented)",
  timeZone: "Europe/Vienna",
} as const;

export type DemoSupplier = { readonly key: string; readonly name: string };

export const DEMO_SUPPLIERS: readonly DemoSupplier[] = [
  { key: "PM", name: "Pellgate Mouldings" },
  { key: "BT", name: "Brackwater Tube" },
  { key: "OC", name: "Orrin Composites" },
];

export type DemoOperation = { readonly key: string; readonly name: string; readonly position: number };

export const DEMO_OPERATIONS: readonly DemoOperation[] = [
  { key: "incoming", name: "incoming", position: 1 },
  { key: "after-machining", name: "after machining", position: 2 },
  { key: "after-paint", name: "after paint", position: 3 },
];

export type DemoLineKey = "C41" | "A46" | "A42";

export type DemoLine = {
  readonly key: DemoLineKey;
  readonly name: string;
  readonly drawing: string;
  readonly model: { readonly key: string; readonly name: string };
  readonly framesPerBatch: number;
  readonly fixture: string;
};

export const DEMO_LINES: readonly DemoLine[] = [
  {
    key: "C41",
    name: "Carbon, press fit 41",
    drawing: "press-fit-41",
    model: { key: "moorlark-c", name: "Moorlark C" },
    framesPerBatch: 40,
    fixture: "FX-2",
  },
  {
    key: "A46",
    name: "Aluminium, press fit 46",
    drawing: "press-fit-46",
    model: { key: "fellrunner", name: "Fellrunner" },
    framesPerBatch: 38,
    fixture: "FX-5",
  },
  {
    key: "A42",
    name: "Aluminium, bearing in the shell 42",
    drawing: "press-fit-42",
    model: { key: "brackenway", name: "Brackenway" },
    framesPerBatch: 38,
    fixture: "FX-7",
  },
];

export type DemoGaugeKind = "bore" | "sweep" | "face" | "width";

export type DemoGauge = {
  readonly key: string;
  readonly name: string;
  readonly kind: DemoGaugeKind | "plug" | "bar";
  readonly principle: "two-point" | "indicator" | "caliper" | "plain plug" | "bar";
  readonly resolutionUm: number;
  /** What it can show: mm of bores and widths, µm of an indicator's travel; null of what is felt. */
  readonly range: GaugeRange | null;
  readonly station: string;
  /** Setting ring of a bore gauge. */
  readonly ring: string | null;
  /** Days before the end of the plan on which it was calibrated, and for how many days that holds. */
  readonly calibratedDaysAgo: number;
  readonly calibrationDays: number;
};

export type DemoRing = { readonly key: string; readonly certifiedSizeMm: number; readonly uncertaintyUm: number };

export const DEMO_RINGS: readonly DemoRing[] = [
  { key: "RG-41-1", certifiedSizeMm: 40.9752, uncertaintyUm: 0.75 },
  { key: "RG-46-1", certifiedSizeMm: 45.9748, uncertaintyUm: 0.75 },
  { key: "RG-42-1", certifiedSizeMm: 41.9703, uncertaintyUm: 0.75 },
];

export type DemoStation = {
  readonly key: string;
  readonly name: string;
  readonly line: DemoLineKey;
  readonly operation: string;
  readonly viewingSide: "ds" | "nds";
  readonly gauges: Readonly<Record<DemoGaugeKind, string>>;
};

function station(line: DemoLineKey, end: "M" | "P", gauges: readonly [string, string, string, string]): DemoStation {
  const [bore, sweep, face, width] = gauges;
  return {
    key: `${line}-${end}`,
    name: `${line} ${end === "M" ? "after machining" : "after paint"}`,
    line,
    operation: end === "M" ? "after-machining" : "after-paint",
    viewingSide: "ds",
    gauges: { bore, sweep, face, width },
  };
}

export const DEMO_STATIONS: readonly DemoStation[] = [
  station("C41", "M", ["BG-03", "SI-01", "FI-01", "WC-01"]),
  station("A46", "M", ["BG-05", "SI-02", "FI-02", "WC-02"]),
  station("A42", "M", ["BG-06", "SI-03", "FI-03", "WC-03"]),
  station("A46", "P", ["BG-09", "SI-04", "FI-04", "WC-04"]),
];

/** Travel of the lever indicators, either side of their zero, µm. Invented. */
const TRAVEL: GaugeRange = { lower: -800, upper: 800 };

/** A bore gauge is built for one size: it reaches 1 mm either side of it. Invented. */
function boreRange(nominalMm: number): GaugeRange {
  return { lower: nominalMm - 1, upper: nominalMm + 1 };
}

function gaugesOf({ key, gauges, line }: DemoStation): DemoGauge[] {
  const shared = { station: key, calibratedDaysAgo: 90, calibrationDays: 365 } as const;
  const ring = `RG-${line.slice(1)}-1`;
  return [
    {
      ...shared,
      key: gauges.bore,
      name: `Bore gauge ${line.slice(1)} mm`,
      kind: "bore",
      principle: "two-point",
      resolutionUm: line === "A42" ? 0.5 : 1,
      range: boreRange(Number(line.slice(1))),
      ring,
    },
    {
      ...shared,
      key: gauges.sweep,
      name: "Sweep indicator",
      kind: "sweep",
      principle: "indicator",
      resolutionUm: 0.5,
      range: TRAVEL,
      ring: null,
    },
    {
      ...shared,
      key: gauges.face,
      name: "Face indicator",
      kind: "face",
      principle: "indicator",
      resolutionUm: 0.5,
      range: TRAVEL,
      ring: null,
    },
    {
      ...shared,
      key: gauges.width,
      name: "Width caliper",
      kind: "width",
      principle: "caliper",
      resolutionUm: 5,
      range: { lower: 0, upper: 150 },
      ring: null,
    },
  ];
}

/** The bore gauge that takes over on line A42 when the other one is found out. */
export const SPARE_BORE_GAUGE: DemoGauge = {
  key: "BG-08",
  name: "Bore gauge 42 mm, spare",
  kind: "bore",
  principle: "two-point",
  resolutionUm: 0.5,
  range: boreRange(42),
  station: "A42-M",
  ring: "RG-42-1",
  calibratedDaysAgo: 30,
  calibrationDays: 365,
};

/** Plugs and bars of a station after machining: the cheapest way to begin. */
function feltGaugesOf({ key, line, operation }: DemoStation, place: number): DemoGauge[] {
  if (operation !== "after-machining") return [];
  const shared = {
    station: key,
    ring: null,
    range: null,
    resolutionUm: 1,
    calibratedDaysAgo: 90,
    calibrationDays: 365,
  };
  const number = String(place + 1).padStart(2, "0");
  return [
    { ...shared, key: `PP-${number}`, name: `Plug gauges ${line.slice(1)} mm`, kind: "plug", principle: "plain plug" },
    { ...shared, key: `GB-${number}`, name: `Gauge bars ${line.slice(1)} mm`, kind: "bar", principle: "bar" },
  ];
}

export const DEMO_GAUGES: readonly DemoGauge[] = [
  ...DEMO_STATIONS.flatMap(gaugesOf),
  SPARE_BORE_GAUGE,
  ...DEMO_STATIONS.flatMap(feltGaugesOf),
];

export type DemoRole = "inspector" | "engineer" | "supplier_manager" | "dock" | "auditor" | "administrator";

export type DemoPerson = {
  readonly key: string;
  readonly name: string;
  readonly roles: readonly DemoRole[];
  /** Code on the badge of those who measure. */
  readonly badgeCode: string | null;
};

/** All invented. */
export const DEMO_PEOPLE: readonly DemoPerson[] = [
  { key: "ostrand", name: "Jette Ostrand", roles: ["inspector"], badgeCode: "B-101" },
  { key: "tamsel", name: "Ruben Tamsel", roles: ["inspector"], badgeCode: "B-102" },
  { key: "quell", name: "Mira Quell", roles: ["inspector"], badgeCode: "B-103" },
  { key: "vintler", name: "Oskar Vintler", roles: ["inspector"], badgeCode: "B-104" },
  { key: "brandow", name: "Ilse Brandow", roles: ["engineer"], badgeCode: null },
  { key: "wreden", name: "Tomas Wreden", roles: ["supplier_manager"], badgeCode: null },
  { key: "linnvik", name: "Kaja Linnvik", roles: ["dock"], badgeCode: null },
  { key: "amsold", name: "Peter Amsold", roles: ["auditor"], badgeCode: null },
  { key: "fenn", name: "Nora Fenn", roles: ["administrator"], badgeCode: null },
];
