import { afterEach, beforeEach, expect, vi } from "vitest";

// A warning or an error that no test asked for is a failure.
let complaints: string[] = [];

beforeEach(() => {
  complaints = [];
  for (const level of ["warn", "error"] as const) {
    vi.spyOn(console, level).mockImplementation((...parts: unknown[]) => {
      complaints.push(`${level}: ${parts.map(String).join(" ")}`);
    });
  }
});

afterEach(() => {
  vi.restoreAllMocks();
  expect(complaints).toEqual([]);
});
