import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/geometry/route";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { expectDigits } from "../../helpers/expect-digits";
import { createTestPlant } from "../../helpers/plant";
import { untilAnswered } from "../../helpers/until-answered";
import reference from "../../reference/seat-geometry.json";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let reader = "";
let writer = "";
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const plant = await createTestPlant({ frames: 1 });
  const administrator = await plant.as("administrator");
  reader = (await createToken(administrator, { name: "reads", scopes: ["results:read"] })).token;
  writer = (await createToken(administrator, { name: "writes", scopes: ["readings:write"] })).token;
});
afterAll(async () => database.drop());

async function ask(body: unknown, token = reader) {
  const text = typeof body === "string" ? body : JSON.stringify(body);
  const request = () =>
    new Request("http://localhost:3000/api/v1/geometry", {
      method: "POST",
      headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
      body: text,
    });
  const response = await untilAnswered(() => POST(request(), { params: Promise.resolve({}) }));
  return { status: response.status, body: await response.json() };
}

/** Round seats of one diameter; the NDS seat lies `offsetUm` towards 3 o'clock. */
function shifted(offsetUm: number, change: Record<string, number | null> = {}): Record<string, number | null> {
  const readings = fullPlan(PRESS_FIT_41).map((name) => {
    if (name.kind === "bore") return [formatReadingName(name), 40.975];
    if (name.kind === "width") return [formatReadingName(name), 86.5];
    if (name.kind === "sweep")
      return [formatReadingName(name), offsetUm * Math.cos(((name.angleDeg - 90) * Math.PI) / 180)];
    return [formatReadingName(name), 0];
  });
  return { ...Object.fromEntries(readings), ...change };
}

describe("POST /api/v1/geometry", () => {
  it("gives offset, zone, tilt, bar and ream of a parallel offset of 0.050 mm", async () => {
    const { status, body } = await ask({ drawing: "press-fit-41", readings: shifted(50) });
    expect(status).toBe(200);
    expect(body.features["offset.3"].value).toBeCloseTo(50, 9);
    expect(body.features.coaxiality.value).toBeCloseTo(100, 9);
    // geometry.json pair "parallel-offset-2-8" (computed by linear programme): tilt 2.25', bar D - 0.0039, ream D + 0.0039
    expect(body.features["nds.tilt"].value).toBeCloseTo(2.25, 2);
    expect(body.meaning.functionalSize.result.value.diameterMm).toBeCloseTo(40.975 - 0.0039, 4);
    expect(body.meaning.salvage.ream.result.value.value).toBeCloseTo(40.975 + 0.0039, 4);
    expect(body.characteristics).toHaveLength(12);
  });

  it("places the reference circles of a swept section", async () => {
    const { body } = await ask({ drawing: "press-fit-41", readings: shifted(30) });
    const [circles] = body.circles;
    expect(circles.leastSquares.towards3Um).toBeCloseTo(30, 1);
    expect(circles.leastSquares.clockDeg).toBeCloseTo(90, 6);
    expect(circles.minimumZoneUm).toBeLessThan(0.1);
  });

  it("draws the uncertainty by Monte Carlo, the same for the same seed", async () => {
    const question = { drawing: "press-fit-41", readings: shifted(20), monteCarlo: { draws: 2000, seed: 41 } };
    const [first, second] = [await ask(question), await ask(question)];
    expect(first.body.monteCarlo).toEqual(second.body.monteCarlo);
    // U (k = 2) of coaxiality 12 µm, from the invented budget
    expect(2 * first.body.monteCarlo.alignment.coaxiality.standardUncertainty).toBeGreaterThan(10);
    expect(2 * first.body.monteCarlo.alignment.coaxiality.standardUncertainty).toBeLessThan(14);
  });

  it("takes plugs and the bar as evidence", async () => {
    const plugs = { "ds.plug.40.85": "slides", "ds.plug.40.95": "no" };
    const { body } = await ask({ drawing: "press-fit-41", readings: shifted(0), plugs, bar: { result: "free" } });
    // common practice, no source: a 40.95 plug enters a good seat; that it does not contradicts 40.975 by the gauge
    expect(body.meaning.evidence.plugs.ds.findings.length).toBeGreaterThan(0);
  });

  it("fits the printed sweep and places its circles", async () => {
    // seat-geometry.json, synthetic-12 (computed). A sweep keeps no size, and the answer places its deviations on the nominal
    // radius: what depends on the radius (products of harmonics over it) moves by up to 0.1 µm.
    const { anglesDeg, radii, a1, lsc, mzcZone } = reference.harmonics;
    const sweep = Object.fromEntries(anglesDeg.map((angle, index) => [`nds.sweep.8@${angle}`, radii[index]! * 1000]));
    const { status, body } = await ask({ drawing: "press-fit-41", readings: sweep });
    expect(status).toBe(200);
    const { towards12Um, towards3Um } = body.details.swept[0].sections[0].fit;
    expectDigits(Math.hypot(towards12Um, towards3Um), a1[0]! * 1000, 4);
    expect(Math.abs(body.circles[0].leastSquares.towards12Um - lsc[0]! * 1000)).toBeLessThan(0.1);
    expect(Math.abs(body.circles[0].leastSquares.towards3Um - lsc[1]! * 1000)).toBeLessThan(0.1);
    expect(Math.abs(body.circles[0].minimumZoneUm - mzcZone * 1000)).toBeLessThan(0.1);
  });

  it("takes the contact principle of the gauges into the verdict", async () => {
    // by definition: a three-point head does not see the 2nd harmonic that ovality needs.
    const gauges = { bore: "three-point", sweep: "indicator", face: "indicator" };
    const { body } = await ask({ drawing: "press-fit-41", readings: shifted(0), gauges });
    const doubted = body.characteristics.filter((one: { verdict: string }) => one.verdict === "not proven");
    expect(doubted.map(({ name, reason }: { name: string; reason: string }) => [name, reason])).toEqual([
      ["ovality", "the gauge does not see lobes of order 2"],
      ["ovality", "the gauge does not see lobes of order 2"],
    ]);
  });

  it("flags an outlier of 0.5 mm where the freedom allows", async () => {
    const { body } = await ask({ drawing: "press-fit-41", readings: shifted(10, { "nds.sweep.8@90": 510 }) });
    expect(body.warnings.map(({ code }: { code: string }) => code)).toContain("sweep-outlier");
  });

  it("gives the offset of three angles without a standard error, and none of two", async () => {
    const three = { "nds.sweep.2@0": 0, "nds.sweep.2@120": 10, "nds.sweep.2@240": -10 };
    const { body } = await ask({ drawing: "press-fit-41", readings: three });
    // Least squares on 1, cos, sin by hand: 2/3 of the sum of y sin(phi) = 2/3 x 20 x sin 120.
    const { fit } = body.details.swept[0].sections[0];
    expectDigits(fit.towards3Um, (2 / 3) * 20 * Math.sin((2 * Math.PI) / 3), 12);
    expect(fit.standardErrorUm).toBeNull();
    const { "nds.sweep.2@240": _, ...two } = three;
    const few = await ask({ drawing: "press-fit-41", readings: two });
    expect(few.body.features.coaxiality).toEqual({
      value: null,
      reason: "not estimable: a sweep needs three different angles; there are 2",
    });
  });

  it.each([
    ["a name that is none", { readings: { "nds.bore.8@1-6": 41 } }, /six hours apart/],
    ["a plug with a number", { readings: { "ds.plug.40.95": 1 } }, /sent as words/],
    ["an unknown drawing", { drawing: "press-fit-99", readings: shifted(0) }, /no demonstration drawing/],
    ["no readings", { readings: {} }, /at least one reading/],
    ["a text", { readings: { "width@12": "86,5" } }, /width@12/],
    [
      "two readings of one direction",
      { readings: { "ds.bore.2@12-6": 40.97, "ds.bore.2@6-12": 40.98 } },
      /ds\.bore\.2@6-12 and ds\.bore\.2@12-6 are the same reading/,
    ],
    [
      "a bore larger than its housing",
      { drawing: { ...PRESS_FIT_41, shellOutsideDiameterMm: 40 }, readings: shifted(0) },
      /housing|outside diameter|larger/i,
    ],
    [
      "a wall that is negative",
      {
        drawing: {
          ...PRESS_FIT_41,
          carries: { ...PRESS_FIT_41.carries, cup: { ...PRESS_FIT_41.carries.cup, wallMm: -2 } },
        },
        readings: shifted(0),
      },
      /wall mm: must be over zero/,
    ],
    [
      "two readings at one angle",
      { readings: { "nds.sweep.8@0": 1, "nds.sweep.8@0.0": 2, "nds.sweep.8@120": 3, "nds.sweep.8@240": 0 } },
      /nds\.sweep\.8@0\.0 and nds\.sweep\.8@0 are the same reading/,
    ],
    ["a bore of no size", { readings: { "ds.bore.2@12-6": -41 } }, /ds\.bore\.2@12-6 must lie above 0/],
    // Squares of such numbers overflow: no fit of them ends in an answer.
    ["sizes that no shell has", { readings: shifted(1e300) }, /within 100000 µm/],
    ["a section outside the seat", { readings: { "nds.sweep.81.5@0": 1 } }, /lies deeper than the seat, 12 mm/],
    [
      "a cup whose wall leaves no seat for the bearing",
      {
        drawing: {
          ...PRESS_FIT_41,
          carries: { ...PRESS_FIT_41.carries, cup: { ...PRESS_FIT_41.carries.cup, wallMm: 2.2 } },
        },
        readings: shifted(0),
      },
      /wall mm: must leave the bearing/,
    ],
    [
      "a depth that stands twice in the drawing",
      { drawing: { ...PRESS_FIT_41, fullPlanDepthsMm: [5, 5] }, readings: shifted(0) },
      /each depth stands once/,
    ],
    ["a whole number of rounds", { readings: { "nds.sweep.8@720": 1 } }, /720/],
  ])("answers %s in words", async (_, change, words) => {
    const { status, body } = await ask({ drawing: "press-fit-41", ...change });
    expect([400, 404]).toContain(status);
    expect(`${body.detail} ${JSON.stringify(body.fields ?? [])}`).toMatch(words);
  });

  it("calls what the readings cannot give not estimable, never a number", async () => {
    const { status, body } = await ask({
      drawing: "press-fit-41",
      readings: { "nds.sweep.8@0": 1, "nds.sweep.8@90": 2, "nds.sweep.8@180": 3 },
    });
    expect(status).toBe(200);
    expect(body.features["nds.tilt"]).toMatchObject({ value: null, reason: expect.stringMatching(/./) });
    expect(body.features["ds.bore.mean"].value).toBeNull();
    expect(JSON.stringify(body)).not.toMatch(/NaN|Infinity/);
  });

  it("still says the rest where one reading is beyond what a seat can be", async () => {
    const { status, body } = await ask({ drawing: "press-fit-41", readings: shifted(0, { "nds.sweep.2@45": 60_000 }) });
    expect(status).toBe(200);
    expect(body.features["ds.bore.mean"].value).toBeCloseTo(40.975, 9);
    expect(body.meaning.functionalSize.result).toMatchObject({
      ok: false,
      reason: expect.stringContaining("a reading must be wrong"),
    });
    expect(body.meaning.salvage.ream.result.ok).toBe(false);
  });

  it("refuses NaN, which JSON does not have, and half a body", async () => {
    expect((await ask('{"drawing":"press-fit-41","readings":{"width@12":NaN}}')).status).toBe(400);
    expect((await ask('{"drawing":"press-fit-41"')).status).toBe(400);
  });

  it("is not for a token that only writes", async () => {
    expect((await ask({ drawing: "press-fit-41", readings: shifted(0) }, writer)).status).toBe(403);
    expect((await ask({ drawing: "press-fit-41", readings: shifted(0) }, "sg_nothing")).status).toBe(401);
  });
});
