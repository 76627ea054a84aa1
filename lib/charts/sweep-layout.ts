import type { Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { clockPoint, px, type ClockFace, type Point } from "./clock-face";

/** A least-squares fit of a sweep: value = mean + sum(cosine cos(k a) + sine sin(k a)), µm, a from 12 seen from the DS. */
export type SweepFit = {
  readonly meanUm: number;
  readonly harmonics: readonly { readonly order: number; readonly cosineUm: number; readonly sineUm: number }[];
};

export type SweepLayoutInput = {
  readonly side: Seat;
  readonly sizePx: number;
  readonly points: readonly { readonly angleDeg: number; readonly valueUm: number }[];
  readonly fit: SweepFit | null;
  readonly askedDeg: number | null;
  /** What fills the plot at least, from the limit of what is swept (`sweepReachUm`): noise stays small beside it. */
  readonly reachUm: number;
};

export type SweepLayout = {
  readonly face: ClockFace;
  /** Radius of the numerals, of the edge of the plot, and of the circle on which the value is the mean. */
  readonly numeralRadius: number;
  readonly edgeRadius: number;
  readonly zeroRadius: number;
  readonly rings: readonly { readonly radius: number; readonly valueUm: number }[];
  readonly dots: readonly Point[];
  readonly curve: string | null;
  readonly asked: Point | null;
  /** Reading at 360 minus reading at 0, µm; null while one of them is missing. */
  readonly closureUm: number | null;
};

const CURVE_STEP_DEG = 4;

function fitAt(fit: SweepFit, angleDeg: number): number {
  const angle = (angleDeg * Math.PI) / 180;
  return fit.harmonics.reduce(
    (sum, { order, cosineUm, sineUm }) => sum + cosineUm * Math.cos(order * angle) + sineUm * Math.sin(order * angle),
    fit.meanUm,
  );
}

function ringStep(largestUm: number): number {
  for (let decade = 0.1; decade < 1e5; decade *= 10) {
    for (const step of [1, 2, 5]) if (largestUm / (step * decade) <= 2.01) return step * decade;
  }
  return largestUm;
}

/** Where a drawing has no limit, µm: half of the zone of the demonstration drawings. */
const USUAL_REACH_UM = 50;

/** How far a sweep may swing about its mean and still conform, µm: half the coaxiality zone, half the run-out of a face. */
export function sweepReachUm(
  { characteristics }: Pick<ShellDrawing, "characteristics">,
  kind: "sweep" | "face",
): number {
  const name = kind === "sweep" ? "coaxiality" : "face run-out";
  const upper = characteristics.find((one) => one.name === name)?.upper;
  return upper === undefined || upper === null ? USUAL_REACH_UM : upper / 2;
}

/** A sweep round the clock: indicator values enlarged as radii about their mean, with the fitted curve and the closing gap. The limit fills it. */
export function layoutSweep({ side, sizePx, points, fit, askedDeg, reachUm }: SweepLayoutInput): SweepLayout {
  const face: ClockFace = { cx: sizePx / 2, cy: sizePx / 2, side };
  const numeralRadius = sizePx / 2 - 16;
  const edgeRadius = numeralRadius - 22;
  const zeroRadius = edgeRadius * 0.56;
  const open = points.filter((point) => point.angleDeg < 360);
  const centre =
    fit?.meanUm ?? (open.length > 0 ? open.reduce((sum, point) => sum + point.valueUm, 0) / open.length : 0);
  const largest = Math.max(reachUm, ...points.map((point) => Math.abs(point.valueUm - centre)));
  const step = ringStep(largest);
  const pxPerUm = ((edgeRadius - zeroRadius) * 0.82) / largest;
  const radiusOf = (valueUm: number) => Math.max(3, zeroRadius + (valueUm - centre) * pxPerUm);
  const at = (angleDeg: number, valueUm: number) => clockPoint(face, radiusOf(valueUm), angleDeg);
  const curve = fit
    ? `M${Array.from({ length: 360 / CURVE_STEP_DEG }, (_, index) => {
        const point = at(index * CURVE_STEP_DEG, fitAt(fit, index * CURVE_STEP_DEG));
        return `${px(point.x)} ${px(point.y)}`;
      }).join("L")}Z`
    : null;
  const first = points.find((point) => point.angleDeg === 0);
  const closing = points.find((point) => point.angleDeg === 360);
  return {
    face,
    numeralRadius,
    edgeRadius,
    zeroRadius,
    rings: [-2, -1, 1, 2]
      .map((times) => ({ radius: zeroRadius + times * step * pxPerUm, valueUm: times * step }))
      .filter((ring) => ring.radius > 6 && ring.radius < edgeRadius - 4),
    dots: points.map((point) => at(point.angleDeg, point.valueUm)),
    curve,
    asked: askedDeg === null ? null : clockPoint(face, edgeRadius, askedDeg),
    closureUm: first && closing ? closing.valueUm - first.valueUm : null,
  };
}
