import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { matchCases, type RecordedCase } from "@/lib/quality/cases/match-cases";

const recorded = (id: string, signals: string[], more: Partial<RecordedCase> = {}): RecordedCase => ({
  id,
  signals,
  state: "open",
  isLookedAt: true,
  ...more,
});
const found = (signals: string[], backAgain: number | null = null) => ({ signals, backAgain });

describe("matchCases", () => {
  it("opens what is new and goes on with what it knows", () => {
    expect(matchCases([recorded("one", ["a", "b"])], [found(["a", "b", "c"]), found(["x"])])).toEqual({
      records: [
        { id: "one", occurrences: [0] },
        { id: null, occurrences: [1] },
      ],
      joined: [],
      gone: [],
    });
  });

  it("makes one record of two that are one change, the one opened first", () => {
    const matched = matchCases([recorded("one", ["a"]), recorded("two", ["b"])], [found(["a", "b"])]);
    expect(matched.records).toEqual([{ id: "one", occurrences: [0] }]);
    expect(matched.joined).toEqual([{ id: "two", into: "one" }]);
  });

  it("leaves a closed one closed by itself where it is one change with another", () => {
    const closed = recorded("one", ["a"], { state: "closed" });
    expect(matchCases([closed, recorded("two", ["b"])], [found(["a", "b"])])).toMatchObject({
      records: [{ id: "one" }],
      joined: [{ id: "two", into: "one" }],
    });
    const later = matchCases([recorded("one", ["a"]), { ...closed, id: "two", signals: ["b"] }], [found(["a", "b"])]);
    expect(later.joined).toEqual([]);
  });

  it("puts what is back again into the record of before", () => {
    const matched = matchCases(
      [recorded("one", ["a"])],
      [found(["a"]), found(["q"]), found(["b"], 0), found(["c"], 2)],
    );
    expect(matched.records).toEqual([
      { id: "one", occurrences: [0, 2, 3] },
      { id: null, occurrences: [1] },
    ]);
  });

  it("gives a record that fell apart to the part with most of its signals", () => {
    const matched = matchCases([recorded("one", ["a", "b", "c"])], [found(["a"]), found(["b", "c"])]);
    expect(matched.records.map(({ id }) => id)).toEqual([null, "one"]);
  });

  it("says which open ones were not found any more, of those that were looked for", () => {
    const all = [
      recorded("withdrawn", ["a"]),
      recorded("long ago", ["b"], { isLookedAt: false }),
      recorded("decided", ["c"], { state: "closed" }),
    ];
    expect(matchCases(all, []).gone).toEqual(["withdrawn"]);
  });

  it("never gives one record twice and loses no gathered case", () => {
    const signals = fc.uniqueArray(fc.constantFrom(..."abcdefgh"), { minLength: 1, maxLength: 4 });
    fc.assert(
      fc.property(fc.array(signals, { maxLength: 5 }), fc.array(signals, { maxLength: 5 }), (before, now) => {
        const matched = matchCases(
          before.map((own, at) => recorded(String(at), own)),
          now.map((own) => found(own)),
        );
        const ids = matched.records.flatMap(({ id }) => id ?? []);
        expect(new Set(ids).size).toBe(ids.length);
        expect(matched.records.flatMap(({ occurrences }) => occurrences).sort()).toEqual(now.map((_, at) => at));
        const seen = [...ids, ...matched.joined.map(({ id }) => id), ...matched.gone].sort();
        expect(seen).toEqual(before.map((_, at) => String(at)).sort());
      }),
    );
  });
});
