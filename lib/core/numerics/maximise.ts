/** A maximum: where it is and how high. */
export interface Maximum {
  readonly at: readonly number[];
  readonly value: number;
}

/** First and second derivatives of a function of d parameters at one point. */
export interface Slope {
  /** number[d] */
  readonly gradient: readonly number[];
  /** number[d][d] */
  readonly hessian: readonly (readonly number[])[];
  /** Largest curvature along a parameter, > 0. */
  readonly curvature: number;
}

/** Step of the differences, relative to parameters of the order of 1. */
const DIFFERENCE = 1e-4;
/** A Newton step below this moves nothing that the differences can tell. */
const USUAL_TOLERANCE = 1e-7;
const MOST_STEPS = 60;
const MOST_DAMPING = 1e12;

/**
 * Local maximum of a smooth function of one or two parameters that are scaled to the order of 1.
 * @param f - function of number[d]; -Infinity where it is not defined
 * @param start - number[d], d = 1 or 2, a point where f is finite
 * @param tolerance - length of the last step, default 1e-7; the error left is about its square
 * @param slopeOf - gradient and Hessian of f where they are known in closed form; by differences otherwise
 * @returns the maximum, or null where the steps do not settle (a ridge, or a maximum at infinity)
 * Method: Newton's method, on differences where there is no slope, damped towards the gradient until each step climbs.
 * Accuracy: about 1e-8 in the parameters, where f itself keeps 13 digits
 * Source: Marquardt 1963, J. SIAM 11(2), 431-441 (the damping)
 */
export function maximise(
  f: (at: readonly number[]) => number,
  start: readonly number[],
  tolerance = USUAL_TOLERANCE,
  slopeOf: ((at: readonly number[]) => Slope | null) | null = null,
): Maximum | null {
  let at = start;
  let value = f(at);
  if (!Number.isFinite(value)) return null;
  let damping = 0;
  for (let step = 0; step < MOST_STEPS; step++) {
    const slope = slopeOf === null ? differences(f, at, value) : slopeOf(at);
    if (slope === null) return null;
    let next: readonly number[] | null = null;
    let shift: readonly number[] = [];
    for (; damping < MOST_DAMPING; damping = Math.max(4 * damping, 1e-3 * slope.curvature)) {
      const trial = dampedStep(slope, damping);
      if (trial === null) continue;
      shift = trial;
      next = at.map((coordinate, i) => coordinate + trial[i]!);
      const height = f(next);
      // Close to the top the differences of f are rounding.
      if (height >= value - 1e-13 * Math.abs(value)) {
        value = height;
        break;
      }
      next = null;
    }
    if (next === null) return null;
    at = next;
    damping = damping > 1e-6 * slope.curvature ? damping / 10 : 0;
    if (shift.every((part) => Math.abs(part) < tolerance) && damping <= slope.curvature) return { at, value };
  }
  return null;
}

function differences(f: (at: readonly number[]) => number, at: readonly number[], value: number): Slope | null {
  const h = DIFFERENCE;
  const moved = (by: readonly number[]) => f(at.map((coordinate, i) => coordinate + by[i]!));
  if (at.length === 1) {
    const [up, down] = [moved([h]), moved([-h])];
    const second = (up - 2 * value + down) / (h * h);
    const slope = { gradient: [(up - down) / (2 * h)], hessian: [[second]], curvature: Math.abs(second) };
    return Number.isFinite(second) ? slope : null;
  }
  const [up0, down0, up1, down1] = [moved([h, 0]), moved([-h, 0]), moved([0, h]), moved([0, -h])];
  const first = (up0 - 2 * value + down0) / (h * h);
  const second = (up1 - 2 * value + down1) / (h * h);
  const mixed = (moved([h, h]) - up0 - up1 + 2 * value - down0 - down1 + moved([-h, -h])) / (2 * h * h);
  if (!Number.isFinite(first + second + mixed)) return null;
  return {
    gradient: [(up0 - down0) / (2 * h), (up1 - down1) / (2 * h)],
    hessian: [
      [first, mixed],
      [mixed, second],
    ],
    curvature: Math.max(Math.abs(first), Math.abs(second), Number.MIN_VALUE),
  };
}

/** Solution of (damping - H) s = gradient, no part longer than 1; null where the matrix is not positive definite. */
function dampedStep({ gradient, hessian }: Slope, damping: number): readonly number[] | null {
  let step: number[];
  const a = damping - hessian[0]![0]!;
  if (!(a > 0)) return null;
  if (gradient.length === 1) step = [gradient[0]! / a];
  else {
    const b = -hessian[0]![1]!;
    const c = damping - hessian[1]![1]!;
    const determinant = a * c - b * b;
    if (!(determinant > 1e-12 * a * c)) return null;
    step = [(c * gradient[0]! - b * gradient[1]!) / determinant, (a * gradient[1]! - b * gradient[0]!) / determinant];
  }
  const longest = Math.max(...step.map(Math.abs));
  return longest > 1 ? step.map((part) => part / longest) : step;
}
