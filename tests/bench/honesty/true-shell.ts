import { alignSeats } from "@/lib/core/metrology/coaxiality";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { SectionCentre } from "@/lib/core/metrology/seat-axis";
import type { CharacteristicName, ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { SeededGenerator } from "@/lib/core/numerics/seeded-generator";

type Lobe = { readonly order: number; readonly amplitudeUm: number; readonly phaseDeg: number };

/** One seat as it is: mean diameter in the middle of its sections, lobes of the radius, taper over the sections, bell mouth at the face. */
type TrueSeat = {
  readonly meanMm: number;
  readonly lobes: readonly Lobe[];
  readonly taperUm: number;
  readonly bellUm: number;
};

type TrueFace = { readonly runOutUm: number; readonly highDeg: number; readonly waveUm: number };

/** A shell before anybody measures it. Offset of the NDS seat's middle from the DS axis µm; its slope against it, µm per mm. */
export type TrueShell = {
  readonly seats: Readonly<Record<Seat, TrueSeat>>;
  readonly offsetUm: readonly [number, number];
  readonly slope: readonly [number, number];
  readonly faces: Readonly<Record<Seat, TrueFace>>;
  readonly widthMm: number;
};

export const DEFECTS = [
  "size",
  "oval",
  "odd lobes",
  "taper",
  "bell mouth",
  "offset",
  "crossing axes",
  "faces",
  "width",
] as const;
export type Defect = (typeof DEFECTS)[number];

const RAD = Math.PI / 180;
const ARCMIN_UM_PER_MM = (Math.PI / 10800) * 1000;
/** Depth over which a bell mouth dies away, mm. */
const BELL_MM = 1.5;

const limitOf = (drawing: ShellDrawing, name: CharacteristicName) => {
  const found = drawing.characteristics.find((one) => one.name === name);
  if (found === undefined) throw new Error(`no ${name}`);
  return { lower: found.lower ?? 0, upper: found.upper ?? 0 };
};

export function middleDepth({ fullPlanDepthsMm: depths }: ShellDrawing): number {
  return depths.reduce((sum, depth) => sum + depth, 0) / depths.length;
}

/** Radius less its mean in a direction, µm. */
export function radiusForm({ lobes }: TrueSeat, angleDeg: number): number {
  return lobes.reduce(
    (sum, { order, amplitudeUm, phaseDeg }) => sum + amplitudeUm * Math.cos(order * (angleDeg - phaseDeg) * RAD),
    0,
  );
}

/** Mean diameter of a section less the seat's, µm. */
function sectionUm({ taperUm, bellUm }: TrueSeat, depthMm: number, drawing: ShellDrawing): number {
  const span = Math.max(...drawing.fullPlanDepthsMm) - Math.min(...drawing.fullPlanDepthsMm);
  return (taperUm * (depthMm - middleDepth(drawing))) / span + bellUm * Math.exp(-depthMm / BELL_MM);
}

/** Two-point size, mm. */
export function twoPoint(seat: TrueSeat, depthMm: number, directionDeg: number, drawing: ShellDrawing): number {
  const form = radiusForm(seat, directionDeg) + radiusForm(seat, directionDeg + 180);
  return seat.meanMm + (sectionUm(seat, depthMm, drawing) + form) / 1000;
}

/** Centre of an NDS section from the DS axis, µm. */
export function centreAt({ offsetUm, slope }: TrueShell, depthMm: number, drawing: ShellDrawing): [number, number] {
  const along = middleDepth(drawing) - depthMm;
  return [offsetUm[0] + slope[0] * along, offsetUm[1] + slope[1] * along];
}

/** Height of a face outwards on its sweep circle, µm; the sweep circle is where the limit holds. */
export function faceHeight({ runOutUm, highDeg, waveUm }: TrueFace, angleDeg: number): number {
  return (runOutUm / 2) * Math.cos((angleDeg - highDeg) * RAD) + waveUm * Math.cos(2 * (angleDeg - highDeg) * RAD);
}

export function widthAt({ faces, widthMm }: TrueShell, angleDeg: number): number {
  return widthMm + (faceHeight(faces.ds, angleDeg) + faceHeight(faces.nds, angleDeg)) / 1000;
}

/** Largest plug that enters a seat, mm: its narrowest section less all that its lobes stand in the way. */
export function passageMm(seat: TrueSeat, drawing: ShellDrawing): number {
  const least = Math.min(...drawing.fullPlanDepthsMm.map((depth) => sectionUm(seat, depth, drawing)));
  const lobes = seat.lobes.reduce((sum, { amplitudeUm }) => sum + amplitudeUm, 0);
  return seat.meanMm + (least - 2 * lobes) / 1000;
}

export type TrueValues = ReadonlyMap<string, readonly [smallest: number, largest: number]>;

/** True values of every characteristic at the drawing's measured sections, by name and seat; both extremes of sizes and widths. */
export function trueValues(shell: TrueShell, drawing: ShellDrawing): TrueValues {
  const values = new Map<string, readonly [number, number]>();
  const one = (key: string, value: number) => values.set(key, [value, value]);
  const depths = drawing.fullPlanDepthsMm;
  for (const name of ["ds", "nds"] as const) {
    const seat = shell.seats[name];
    let [smallest, largest] = [Infinity, -Infinity];
    for (const depth of depths)
      for (let direction = 0; direction < 180; direction += 2) {
        const size = twoPoint(seat, depth, direction, drawing);
        smallest = Math.min(smallest, size);
        largest = Math.max(largest, size);
      }
    values.set(`bore ${name}`, [smallest, largest]);
    one(`ovality ${name}`, 4 * (seat.lobes.find(({ order }) => order === 2)?.amplitudeUm ?? 0));
    one(
      `taper ${name}`,
      Math.abs(sectionUm(seat, Math.max(...depths), drawing) - sectionUm(seat, Math.min(...depths), drawing)),
    );
    one(`face run-out ${name}`, shell.faces[name].runOutUm);
  }
  const centres = depths.map((depth): SectionCentre => {
    const [y, z] = centreAt(shell, depth, drawing);
    return { xMm: drawing.widthMm - depth, yMm: y / 1000, zMm: z / 1000 };
  });
  const aligned = alignSeats(
    depths.map((depth) => ({ xMm: depth, yMm: 0, zMm: 0 })),
    centres,
  );
  one("coaxiality nds", aligned.zoneToDatumMm * 1000);
  one("tilt ds", aligned.tiltDatumArcmin ?? 0);
  one("tilt nds", aligned.tiltMeasuredArcmin ?? 0);
  const widths = Array.from({ length: 180 }, (_, step) => widthAt(shell, step * 2));
  values.set("width ", [Math.min(...widths), Math.max(...widths)]);
  return values;
}

/** Draws a shell that is in order but for one kind of defect, whose size is anything from 0.3 to 1.8 times its limit. */
export function drawTrueShell(defect: Defect, drawing: ShellDrawing, random: SeededGenerator): TrueShell {
  const bore = limitOf(drawing, "bore");
  const half = ((bore.upper - bore.lower) / 2) * 1000;
  const fine = half < 15 ? 0.5 : 1;
  const share = 0.3 + 1.5 * random.uniform();
  const vector = (length: number): [number, number] => {
    const angle = 2 * Math.PI * random.uniform();
    return [length * Math.cos(angle), length * Math.sin(angle)];
  };
  const which: Seat = random.uniform() < 0.5 ? "ds" : "nds";
  const seatOf = (name: Seat): TrueSeat => {
    const bad = name === which ? defect : null;
    const side = random.uniform() < 0.5 ? -1 : 1;
    const ovalUm =
      bad === "oval" ? (share * limitOf(drawing, "ovality").upper) / 4 : fine * (0.4 + Math.abs(0.8 * random.normal()));
    const away =
      bad === "size"
        ? side * share * half
        : ["oval", "taper", "bell mouth"].includes(bad ?? "")
          ? side * 0.8 * half * random.uniform()
          : 0.08 * half * random.normal();
    const lobe = (order: number, amplitudeUm: number): Lobe => ({
      order,
      amplitudeUm,
      phaseDeg: (360 / order) * random.uniform(),
    });
    const odd = bad === "odd lobes" ? 25 * random.uniform() : 0;
    const three = random.uniform() < 0.5;
    return {
      meanMm: (bore.upper + bore.lower) / 2 + away / 1000,
      lobes: [
        lobe(2, ovalUm),
        lobe(3, odd > 0 && three ? odd : Math.abs(0.6 * fine * random.normal())),
        lobe(5, odd > 0 && !three ? odd : Math.abs(0.3 * fine * random.normal())),
      ],
      taperUm: bad === "taper" ? side * share * limitOf(drawing, "taper").upper : 0.8 * fine * random.normal(),
      bellUm: bad === "bell mouth" ? 60 * random.uniform() : 0,
    };
  };
  const face = (name: Seat): TrueFace => ({
    runOutUm:
      defect === "faces" && name === which
        ? share * limitOf(drawing, "face run-out").upper
        : 7 * Math.hypot(random.normal(), random.normal()),
    highDeg: 360 * random.uniform(),
    waveUm: 1.5 * Math.abs(random.normal()),
  });
  const zone = limitOf(drawing, "coaxiality").upper;
  const width = limitOf(drawing, "width");
  const widthHalf = (width.upper - width.lower) / 2;
  const isOff = defect === "offset" || (defect === "odd lobes" && random.uniform() < 0.7);
  return {
    seats: { ds: seatOf("ds"), nds: seatOf("nds") },
    offsetUm: isOff ? vector((share * zone) / 2) : [6 * random.normal(), 6 * random.normal()],
    slope:
      defect === "crossing axes"
        ? vector(share * limitOf(drawing, "tilt").upper * ARCMIN_UM_PER_MM)
        : [0.04 * random.normal(), 0.04 * random.normal()],
    faces: { ds: face("ds"), nds: face("nds") },
    widthMm:
      (width.upper + width.lower) / 2 +
      (defect === "width" ? (random.uniform() < 0.5 ? -1 : 1) * share * widthHalf : 0.1 * widthHalf * random.normal()),
  };
}
