import type { MeasuringState } from "./measure-shell";
import { type ProcessState, type ShellTruth, towardsClock } from "./shell-truth";

/** A reamer that has worn by so many µm: both seats come out smaller, the cut a little less even. */
export function withWornReamer(process: ProcessState, wearUm: number): ProcessState {
  const wearMm = wearUm / 1000;
  return { ...process, boreMm: { ds: process.boreMm.ds - wearMm, nds: process.boreMm.nds - wearMm } };
}

/** A fixture that was knocked: the NDS seat moves towards 4 o'clock, the spread stays. */
export function withKnockedFixture(process: ProcessState, shiftUm = 66): ProcessState {
  const [towards12, towards3] = towardsClock(shiftUm, 4);
  return { ...process, offsetUm: [process.offsetUm[0] + towards12, process.offsetUm[1] + towards3] };
}

/** A mould that gives oval seats, always with the long diameter at 1:30-7:30. */
export function withOvalMould(process: ProcessState, amplitudeUm = 13): ProcessState {
  return { ...process, ovalUm: amplitudeUm, ovalSdUm: 0.7, ovalPositionDeg: 45 };
}

/** Paint in the bore: a film on the wall takes twice its thickness off the diameter, and the faces are no longer square. */
export function withPaintInBore(shell: ShellTruth, filmUm = 68): ShellTruth {
  const { ds, nds } = shell.seats;
  const film = (2 * filmUm) / 1000;
  return {
    ...shell,
    seats: { ds: { ...ds, diameterMm: ds.diameterMm - film }, nds: { ...nds, diameterMm: nds.diameterMm - film } },
    faces: {
      ds: { ...shell.faces.ds, runOutUm: shell.faces.ds.runOutUm * 3 },
      nds: { ...shell.faces.nds, runOutUm: shell.faces.nds.runOutUm * 3 },
    },
  };
}

/** A bore gauge that shows too little by a growing amount. */
export function withDriftingGauge(measuring: MeasuringState, driftUm: number): MeasuringState {
  return { ...measuring, boreBiasUm: measuring.boreBiasUm + driftUm };
}

/** A tired hand: the same gauge, several times the spread. */
export function withTiredInspector(measuring: MeasuringState, factor = 8): MeasuringState {
  return { ...measuring, boreNoiseUm: measuring.boreNoiseUm * factor };
}
