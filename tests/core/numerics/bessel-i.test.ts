import { describe, it } from "vitest";
import { besselRatio, scaledBesselI0, scaledBesselI1 } from "@/lib/core/numerics/bessel-i";
import { expectDigits } from "../../helpers/expect-digits";

describe("scaled Bessel functions", () => {
  it.each([
    // mpmath 1.3.0 at 30 digits: exp(-x) besseli(0, x), exp(-x) besseli(1, x)
    [0.001, 0.99900074958351556, 0.00049950031235422135],
    [0.5, 0.64503527044915007, 0.1564208031848717],
    [3.0, 0.2430003541618254, 0.19682671329730085],
    [12.0, 0.11642622121344044, 0.11146429929018098],
    [19.9, 0.090008588864389597, 0.087717102131706101],
    [20.1, 0.089553763620613444, 0.087296851843201592],
    [45.0, 0.059638115011731949, 0.058971703136200643],
    [700.0, 0.015081295651531358, 0.015070519444716847],
    [100000.0, 0.0012615678379767768, 0.0012615615301218171],
  ])("reproduce the reference at x = %f", (x, zero, one) => {
    expectDigits(scaledBesselI0(x), zero, 13);
    expectDigits(scaledBesselI1(x), one, 13);
    expectDigits(besselRatio(x), one / zero, 13);
  });
});
