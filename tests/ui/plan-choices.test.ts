import { describe, expect, it } from "vitest";
import { choicesOf, inOrder, readNames, reconcile } from "@/app/setup/plans/_components/plan-choices";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";

const order = fullPlan(PRESS_FIT_41).map(formatReadingName);
const choices = choicesOf(readNames(order));

describe("readings that are chosen later", () => {
  it("are keyed with their like: a sweep is closed before the indicator is put away", () => {
    const angles = [...choices.sweep.nds.angles, 360];
    const closed = reconcile(order, { ...choices, sweep: { ...choices.sweep, nds: { depths: "2; 8", angles } } });
    expect(closed).toHaveLength(46);
    expect(closed.indexOf("nds.sweep.2@360")).toBe(closed.indexOf("nds.sweep.2@315") + 1);
    expect(closed.indexOf("nds.sweep.8@360")).toBe(closed.indexOf("nds.sweep.8@315") + 1);
    const again = reconcile(order, { ...choices, face: { ...choices.face, ds: [...choices.face.ds, 360] } });
    expect(again.indexOf("ds.face@360")).toBe(again.indexOf("ds.face@270") + 1);
  });

  it("come last where nothing like them is read yet, and leave the others in their order", () => {
    const felt = reconcile(order, { ...choices, plugs: "40.95", bars: "A" });
    expect(felt).toEqual([...order, "ds.plug.40.95", "nds.plug.40.95", "bar.A"]);
    const fewer = reconcile(felt, { ...choices, width: [0] });
    expect(fewer).toEqual(order.filter((name) => !/^width@[369]/.test(name)));
  });
});

describe("the sides in turn", () => {
  it("alternate for the bore gauge; an indicator goes round one seat before it is set to the other", () => {
    const swept = { depths: "2", angles: [0, 90, 180] };
    const both = reconcile([], { ...choices, sweep: { ds: swept, nds: swept } });
    const sides = inOrder(both, "sides").map((name) => name.replace(/@.*/, ""));
    expect(sides.slice(0, 4)).toEqual(["ds.bore.2", "nds.bore.2", "ds.bore.8", "nds.bore.8"]);
    const round = sides.filter((name) => /sweep|face/.test(name));
    expect(round.filter((name, at) => name !== round[at - 1])).toEqual([
      "ds.face",
      "nds.face",
      "ds.sweep.2",
      "nds.sweep.2",
    ]);
  });
});
