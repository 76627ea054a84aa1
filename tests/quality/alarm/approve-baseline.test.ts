import { describe, expect, it } from "vitest";
import { refusalWords } from "@/lib/format/baseline-words";
import { ALARM_STREAMS } from "@/lib/quality/alarm/alarm-streams";
import {
  type ApprovableBaseline,
  type BaselineChoice,
  compareBaselines,
  previewBaselines,
  proposeBaseline,
} from "@/lib/quality/alarm/approve-baseline";
import { type LineColumns, runLine } from "@/lib/quality/alarm/run-line";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { withDriftingGauge } from "@/lib/simulation/process-faults";
import { simulatedColumns } from "@/tests/helpers/simulated-columns";

const drawing = findDemonstrationDrawing("press-fit-41");
if (!drawing) throw new Error("no drawing");
const bore = ALARM_STREAMS.find(({ key }) => key === "ds.bore.mean");
if (!bore) throw new Error("no stream");

const SETTINGS = { runLength: () => 8580 };
// a new ring: from frame 200 on every bore reads 4 um more, and that is right
const line = simulatedColumns(drawing, 400, {
  seed: 31,
  at: (frame, process, measuring) => ({
    process,
    measuring: frame < 200 ? measuring : withDriftingGauge(measuring, 4),
  }),
});
const choice = (from: number, to: number, own: Partial<BaselineChoice> = {}): BaselineChoice => ({
  isChosen: (frame) => frame >= from && frame <= to,
  hasCause: () => false,
  hasOpenCase: false,
  isReason: false,
  ...own,
});
function approvable(of: LineColumns, chosen: BaselineChoice): ApprovableBaseline {
  const proposed = proposeBaseline(of, bore as never, chosen, SETTINGS);
  if (!proposed.ok) throw new Error(proposed.refusal.code);
  return proposed.baseline;
}

describe("proposeBaseline", () => {
  it("makes of the first hundred frames what the run of a line makes of them", () => {
    const run = runLine(line, { ...SETTINGS, baselineFrames: 100, wholeAlpha: 0 }).find(
      ({ stream }) => stream === bore,
    );
    const made = approvable(line, choice(0, 99));
    expect(made.frames).toEqual(run?.baseline);
    expect(made.region).toEqual(run?.region);
    expect(made.outliers).toEqual(run?.outliers);
  });

  it("leaves out what does not conform and what has an assigned cause, and lists outliers that stay", () => {
    const column = line.column("ds.bore.mean").slice();
    column[40] = (column[40] ?? 0) + 0.02;
    const odd: LineColumns = {
      ...line,
      column: (feature) => (feature === "ds.bore.mean" ? column : line.column(feature)),
      isFailing: (frame) => frame === 7,
    };
    const made = approvable(odd, choice(0, 99, { hasCause: (frame) => frame === 12 || frame === 7 }));
    expect(made.frames).toHaveLength(98);
    expect(made).toMatchObject({ failing: [7], assigned: [12], outliers: [40] });
    expect(approvable(odd, choice(0, 99, { hasCause: (frame) => frame === 40 })).outliers).toEqual([]);
  });

  it("refuses twelve frames and an open case that is not the reason, in words", () => {
    const short = proposeBaseline(line, bore, choice(0, 11), SETTINGS);
    expect(short).toEqual({ ok: false, refusal: { code: "too-few-frames", frames: 12, needed: 25 } });
    expect(!short.ok && refusalWords(short.refusal)).toBe(
      "12 frames of these may be in a baseline, and it takes 25. Choose a longer stretch, or wait for more frames.",
    );
    const open = proposeBaseline(line, bore, choice(0, 99, { hasOpenCase: true }), SETTINGS);
    expect(!open.ok && refusalWords(open.refusal)).toContain("A case of this stream is open.");
    expect(proposeBaseline(line, bore, choice(0, 99, { hasOpenCase: true, isReason: true }), SETTINGS).ok).toBe(true);
    const still: LineColumns = { ...line, column: () => new Array<number>(400).fill(41) };
    const equal = proposeBaseline(still, bore, choice(0, 99), SETTINGS);
    expect(!equal.ok && refusalWords(equal.refusal)).toContain("All values of these frames are the same");
  });
});

describe("previews and versions", () => {
  const [first, second] = [approvable(line, choice(0, 99)), approvable(line, choice(200, 299))];

  it("shows what the old and the new baseline would each have signalled", () => {
    const preview = previewBaselines(line, bore, first, second);
    expect(preview.frames).toBe(400);
    // each is right for its own half of the frames
    expect(preview.current?.every(({ index, side }) => index >= 200 && side === "upper")).toBe(true);
    expect(preview.proposed.every(({ index, side }) => index < 200 && side === "lower")).toBe(true);
    expect(preview.proposed.length).toBeGreaterThan(5);
    expect(previewBaselines(line, bore, null, second).current).toBeNull();
  });

  it("tells two versions apart, and a version rolled back is the version that it was", () => {
    const difference = compareBaselines(first, second);
    expect(difference.entered).toEqual(second.frames);
    expect(difference.left).toEqual(first.frames);
    // 4 um, known to four standard errors of two means of 100 frames of 1.3 um
    expect(Math.abs((difference.moved[0] ?? 0) - 0.004)).toBeLessThan(0.0008);
    expect(compareBaselines(first, approvable(line, choice(0, 99)))).toEqual({
      entered: [],
      left: [],
      moved: [0],
      spread: 1,
      lower: { from: first.region.lower?.inControl, to: first.region.lower?.inControl },
      upper: { from: first.region.upper?.inControl, to: first.region.upper?.inControl },
    });
  });
});
