import { describe, expect, it } from "vitest";
import { type CauseFacts, causeSide } from "@/lib/quality/cause-side";

// Which fact speaks for whom: judgement of the trade, no source; weights as the function says.
const facts: CauseFacts = {
  operations: [{ name: "after machining", isIncoming: false }],
  batch: { measured: 40, failed: 8 },
  moulds: [],
  supplier: { measured: 0, failed: 0, batches: 0 },
  neighbours: { measured: 0, failed: 0, batches: 0, troubled: 0 },
  cases: [],
  gauges: [],
  events: [],
};
const said = (change: Partial<CauseFacts>) => {
  const { side, points } = causeSide({ ...facts, ...change });
  return [side, ...points.map(({ code }) => code)];
};

describe("causeSide", () => {
  it("leaves it open where frames were measured after our own work and nothing else is known", () => {
    expect(said({})).toEqual(["open", "after-work"]);
    expect(said({ batch: { measured: 40, failed: 0 } })).toEqual(["open"]);
  });

  it("speaks for the supplier where they failed when they came in, or in one mould", () => {
    expect(said({ operations: [{ name: "incoming", isIncoming: true }] })).toEqual(["supplier", "incoming"]);
    const moulds = [
      { mould: "A", measured: 20, failed: 8 },
      { mould: "B", measured: 20, failed: 0 },
    ];
    const neighbours = { measured: 80, failed: 0, batches: 2, troubled: 0 };
    expect(said({ moulds, neighbours })).toEqual(["supplier", "after-work", "one-mould", "neighbours-clean"]);
  });

  it("does not blame a mould that made nearly all of the batch, nor one failed frame", () => {
    const most = [
      { mould: "A", measured: 36, failed: 8 },
      { mould: "B", measured: 4, failed: 0 },
    ];
    expect(said({ moulds: most })).toEqual(["open", "after-work"]);
    const one = [
      { mould: "A", measured: 20, failed: 1 },
      { mould: "B", measured: 20, failed: 0 },
    ];
    expect(said({ moulds: one, batch: { measured: 40, failed: 1 } })).toEqual(["open", "after-work"]);
  });

  it("speaks for us where a gauge failed, others fail on the line, or it began with something we did", () => {
    expect(said({ gauges: ["BG-03"] })[0]).toBe("ours");
    expect(said({ neighbours: { measured: 40, failed: 4, batches: 1, troubled: 1 } })[0]).toBe("ours");
    // One bad batch among three good ones.
    expect(said({ neighbours: { measured: 160, failed: 13, batches: 4, troubled: 1 } })).toEqual([
      "open",
      "after-work",
    ]);
    const event = { kind: "fixture shimmed", at: new Date(0) };
    const parted = { before: { measured: 25, failed: 0 }, after: { measured: 15, failed: 8 } };
    expect(said({ events: [{ ...event, ...parted }] })).toEqual(["ours", "after-work", "event"]);
    const even = { before: { measured: 20, failed: 4 }, after: { measured: 20, failed: 4 } };
    expect(said({ events: [{ ...event, ...even }] })).toEqual(["open", "after-work"]);
  });

  it("follows the cause of the newest case that explains it", () => {
    const cases = (isOurs: boolean) => [{ number: 87, cause: isOurs ? "fixture moved" : "mould", isOurs }];
    expect(said({ cases: cases(true) })).toEqual(["ours", "case", "after-work"]);
    expect(said({ cases: cases(false), neighbours: { measured: 80, failed: 0, batches: 2, troubled: 0 } })[0]).toBe(
      "supplier",
    );
  });

  it("weighs what speaks for both against each other", () => {
    expect(said({ operations: [{ name: "incoming", isIncoming: true }], gauges: ["BG-03"] })[0]).toBe("open");
    expect(said({ supplier: { measured: 100, failed: 10, batches: 3 } })).toEqual([
      "open",
      "after-work",
      "supplier-before",
    ]);
    expect(said({ supplier: { measured: 100, failed: 0, batches: 3 } })).toEqual([
      "ours",
      "after-work",
      "supplier-clean",
    ]);
    expect(said({ supplier: { measured: 19, failed: 10, batches: 1 } })).toEqual(["open", "after-work"]);
  });
});
