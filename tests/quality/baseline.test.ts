import { describe, expect, it } from "vitest";
import { baselineOf, baselinePlaces, type BaselineCandidate } from "@/lib/quality/baseline";

const bore = { characteristic: "bore", seat: "ds" } as const;
const frame = (
  place: number,
  {
    verdict,
    seat = "ds",
    hasCause = false,
  }: { verdict?: "does not conform" | "not proven"; seat?: "ds" | "nds"; hasCause?: boolean } = {},
): BaselineCandidate & { place: number } => ({
  place,
  characteristics: verdict === undefined ? [] : [{ name: "bore", seat, verdict }],
  hasCause,
});
const placesOf = (frames: readonly { place: number }[]) => frames.map(({ place }) => place);

describe("baselinePlaces", () => {
  it("takes the first frames that may be in it", () => {
    expect(baselinePlaces(10, (place) => [0, 3].includes(place), 4)).toEqual([1, 2, 4, 5]);
    expect(baselinePlaces(3, () => false, 100)).toEqual([0, 1, 2]);
    expect(baselinePlaces(150, () => false)).toHaveLength(100);
  });
  it("takes the newest ones, in the order of measuring", () => {
    expect(baselinePlaces(10, (place) => place === 8, 3, "newest")).toEqual([6, 7, 9]);
  });
});

describe("a baseline", () => {
  it("is without frames that fail in what the stream is about, or whose cause was found; with those that fail elsewhere", () => {
    const frames = [
      frame(0, { verdict: "does not conform" }),
      frame(1, { verdict: "not proven" }),
      frame(2, { verdict: "does not conform", seat: "nds" }),
      frame(3, { hasCause: true }),
      ...Array.from({ length: 30 }, (_, index) => frame(index + 4)),
    ];
    expect(placesOf(baselineOf(frames, bore)).slice(0, 3)).toEqual([2, 4, 5]);
  });

  // The numbers of design B4: provisional from 25, in earnest from 100.
  it.each([
    [24, 24],
    [25, 25],
    [99, 25],
    [100, 100],
    [400, 100],
  ])("has, of %i frames that may be in it, %i", (frames, size) => {
    const list = Array.from({ length: frames }, (_, index) => frame(index));
    expect(placesOf(baselineOf([frame(-1, { hasCause: true }), ...list], bore))).toEqual(placesOf(list.slice(0, size)));
  });
});
