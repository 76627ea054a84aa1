import { describe, expect, it } from "vitest";
import { refusalWords } from "@/app/line/_components/queue/refusal-words";

const refusal = (code: string, details: Record<string, unknown> = {}) => ({
  code,
  message: "As the server said it.",
  details,
  at: 0,
});

describe("why the server did not take an entry", () => {
  it("is said for the person who decides, with the plant's own time", () => {
    const { title, text } = refusalWords(refusal("refused", { measuredBefore: "2026-06-03T10:05:09.343Z" }), "UTC");
    expect(title).toBe("It was measured elsewhere meanwhile");
    expect(text).toMatch(/of 2026-06-03 10:05\sUTC. If this one counts, too/);
    expect(refusalWords(refusal("not-found", { badge: "D2" }), "UTC").title).toBe(
      "Badge D2 belongs to nobody any more",
    );
    expect(refusalWords(refusal("invalid-input", { clock: true }), "UTC").title).toBe(
      "The clock of this device was wrong",
    );
  });

  it("is said as the server said it where nothing more is known", () => {
    expect(refusalWords(refusal("frame-leased", { device: "dev-2" }), "UTC").text).toMatch(/^Device dev-2 has it/);
    expect(refusalWords(refusal("frame-leased"), "UTC").text).toBe("As the server said it.");
    expect(refusalWords(refusal("never heard of"), "UTC").title).toBe("The server refused it");
    expect(refusalWords(null, "UTC").text).toBe("");
  });
});
