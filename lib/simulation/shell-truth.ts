import type { Seat } from "../core/metrology/reading-name";
import type { SeededGenerator } from "../core/numerics/seeded-generator";

/** One lobe pattern of a seat's radius: order, amplitude µm, angle of the first maximum, degrees clockwise from 12. */
export type Lobe = { readonly order: number; readonly amplitudeUm: number; readonly positionDeg: number };

/** One seat as it really is. Taper is the change of diameter per mm of depth. */
export type SeatTruth = { readonly diameterMm: number; readonly taperUmPerMm: number; readonly lobes: readonly Lobe[] };

/** One face as it really is: run-out at the drawing's limit diameter, its high side, and a two-wave rest. */
export type FaceTruth = { readonly runOutUm: number; readonly highSideDeg: number; readonly wavinessUm: number };

/**
 * One shell as it really is, before anybody measures it. The offset is that of the NDS seat's mid-point from the DS axis,
 * towards 12 and towards 3 o'clock; the slope is its change per mm along the shell from DS to NDS.
 */
export type ShellTruth = {
  readonly seats: Readonly<Record<Seat, SeatTruth>>;
  readonly faces: Readonly<Record<Seat, FaceTruth>>;
  readonly offsetUm: readonly [towards12: number, towards3: number];
  readonly slopeUmPerMm: readonly [towards12: number, towards3: number];
  readonly widthMm: number;
};

/** Where a process stands when it makes one shell. Standard deviations are from frame to frame. */
export type ProcessState = {
  readonly boreMm: Readonly<Record<Seat, number>>;
  readonly boreSdUm: number;
  readonly taperUmPerMm: number;
  readonly taperSdUmPerMm: number;
  /** Amplitude of the radius's second harmonic, mean and standard deviation. */
  readonly ovalUm: number;
  readonly ovalSdUm: number;
  /** Where the oval always points, or null where it points anywhere. */
  readonly ovalPositionDeg: number | null;
  readonly threeLobeUm: number;
  readonly offsetUm: readonly [towards12: number, towards3: number];
  readonly offsetSdUm: number;
  readonly slopeSdUmPerMm: number;
  readonly faceRunOutUm: number;
  readonly faceWavinessUm: number;
  readonly widthMm: number;
  readonly widthSdMm: number;
};

function drawSeat(process: ProcessState, seat: Seat, commonUm: number, random: SeededGenerator): SeatTruth {
  // One reamer cuts both seats: most of the scatter is common to them.
  const ownUm = process.boreSdUm * 0.5 * random.normal();
  const ovalUm = Math.abs(process.ovalUm + process.ovalSdUm * random.normal());
  const ovalDeg = process.ovalPositionDeg ?? 180 * random.uniform();
  return {
    diameterMm: process.boreMm[seat] + (commonUm + ownUm) / 1000,
    taperUmPerMm: process.taperUmPerMm + process.taperSdUmPerMm * random.normal(),
    lobes: [
      { order: 2, amplitudeUm: ovalUm, positionDeg: ovalDeg },
      { order: 3, amplitudeUm: Math.abs(process.threeLobeUm * random.normal()), positionDeg: 120 * random.uniform() },
    ],
  };
}

function drawFace(process: ProcessState, random: SeededGenerator): FaceTruth {
  // Two independent components make the run-out's size.
  const [a, b] = [random.normal(), random.normal()];
  return {
    runOutUm: process.faceRunOutUm * Math.hypot(a, b),
    highSideDeg: 360 * random.uniform(),
    wavinessUm: Math.abs(process.faceWavinessUm * random.normal()),
  };
}

/** Draws the next shell that a process in this state makes. */
export function drawShell(process: ProcessState, random: SeededGenerator): ShellTruth {
  const commonUm = process.boreSdUm * Math.sqrt(0.75) * random.normal();
  const [mean12, mean3] = process.offsetUm;
  return {
    seats: { ds: drawSeat(process, "ds", commonUm, random), nds: drawSeat(process, "nds", commonUm, random) },
    faces: { ds: drawFace(process, random), nds: drawFace(process, random) },
    offsetUm: [mean12 + process.offsetSdUm * random.normal(), mean3 + process.offsetSdUm * random.normal()],
    slopeUmPerMm: [process.slopeSdUmPerMm * random.normal(), process.slopeSdUmPerMm * random.normal()],
    widthMm: process.widthMm + process.widthSdMm * random.normal(),
  };
}

/** A vector of a length towards a clock position, as components towards 12 and towards 3. */
export function towardsClock(lengthUm: number, hour: number): readonly [number, number] {
  const angle = (hour * Math.PI) / 6;
  return [lengthUm * Math.cos(angle), lengthUm * Math.sin(angle)];
}
