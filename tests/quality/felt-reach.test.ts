import { describe, expect, it } from "vitest";
import { plugsAndBarPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { DEMONSTRATION_DRAWINGS, PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { planWarningText } from "@/lib/format/plan-words";
import { assessPlanUncertainty, uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";

const names = (...texts: string[]): ReadingName[] =>
  texts.flatMap((text) => {
    const name = parseReadingName(text);
    return name.ok ? [name.value] : [];
  });

describe("the plan of plugs and bars", () => {
  it("asks for two plugs and two rods a seat and two bars, by the limits of the drawing", () => {
    // By hand: 40.950 - 3, + 3 + 2 of hand pressure; 41.000 - 3, + 5 µm.
    expect(plugsAndBarPlan(PRESS_FIT_41).map(formatReadingName)).toEqual([
      ...["ds", "nds"].flatMap((seat) => [
        `${seat}.plug.40.947`,
        `${seat}.plug.40.955`,
        `${seat}.plug.40.997@across`,
        `${seat}.plug.41.005@across`,
      ]),
      "bar.A",
      "bar.B",
    ]);
  });

  it("can prove every characteristic that it covers, of each demonstration drawing, and warns of nothing", () => {
    for (const drawing of DEMONSTRATION_DRAWINGS) {
      const plan = plugsAndBarPlan(drawing);
      const reach = Object.fromEntries(
        assessPlanUncertainty(drawing, plan).map(({ name, seat, felt }) => [`${name} ${seat}`, felt]),
      );
      const both = { canConform: true, canFail: true };
      expect(reach, drawing.key).toEqual({
        "bore ds": both,
        "bore nds": both,
        // A seat that tilts about its own middle leaves the other where it is: no bar proves coaxiality broken.
        "coaxiality nds": { canConform: true, canFail: false },
        "tilt ds": both,
        "tilt nds": both,
      });
      expect(uncertaintyWarnings(drawing, plan)).toEqual([]);
    }
  });

  it("is warned about where its trials can never prove that a shell conforms", () => {
    // The usual bar is free up to 4.3' and 206 µm; a plug of 40.95 enters by hand from 40.948 on.
    const warnings = uncertaintyWarnings(PRESS_FIT_41, names("ds.plug.40.95", "bar.A")).map(planWarningText).join(" ");
    expect(warnings).toContain("prove nothing of bore (DS)");
    expect(warnings).toContain("can show tilt (DS) out of its limits and never inside them");
    expect(warnings).toContain("prove nothing of coaxiality (NDS)");
  });

  it("reads a rod's name back as it is written", () => {
    for (const text of ["ds.plug.40.997@across", "nds.plug.41"]) {
      const name = parseReadingName(text);
      expect(name.ok && formatReadingName(name.value)).toBe(text);
    }
    expect(parseReadingName("ds.plug.40.997@along").ok).toBe(false);
  });
});
