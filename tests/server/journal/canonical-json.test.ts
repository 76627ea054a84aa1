import { expect, test } from "vitest";
import { canonicalJson, contentHash, Written } from "@/lib/server/journal/canonical-json";

test("one spelling, whatever the order of the keys and the kind of a value", () => {
  const value = { b: [1, null, "x"], a: { z: new Date(1_000), y: undefined, x: Buffer.from("ff00", "hex") }, n: 12n };
  expect(canonicalJson(value)).toBe('{"a":{"x":"ff00","z":1000},"b":[1,null,"x"],"n":12}');
  expect(canonicalJson({ n: 12n, a: { ...value.a }, b: [...value.b] })).toBe(canonicalJson(value));
  expect(canonicalJson([])).toBe("[]");
  expect(canonicalJson({})).toBe("{}");
  expect(canonicalJson([{}, [], true, undefined, 'quo"ted'])).toBe('[{},[],true,null,"quo\\"ted"]');
});

test("a text that was written before stands for its value", () => {
  const readings = [40.975, null, -1e-7];
  expect(canonicalJson({ readings: new Written(readings), id: "x" })).toBe(canonicalJson({ readings, id: "x" }));
  expect(new Written(readings).text).toBe("[40.975,null,-1e-7]");
});

// printf '{"a":[1,2]}' | sha256sum (GNU coreutils 9.1)
test("hashes the canonical text by SHA-256", () => {
  expect(contentHash({ a: [1, 2] }).toString("hex")).toBe(
    "01530d164d479cf08e26d3b1ad9bdba927120d97e2d057a6d792db778780d720",
  );
});
