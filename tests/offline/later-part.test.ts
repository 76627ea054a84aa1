import { describe, expect, it } from "vitest";
import { LaterPart } from "@/lib/offline/later-part";

describe("a part that is loaded later", () => {
  it("is loaded once, and tells who waits for it", async () => {
    let loads = 0;
    const part = new LaterPart(() => Promise.resolve((loads += 1)));
    let told = 0;
    part.subscribe(() => (told += 1));
    expect(part.now()).toBeNull();
    expect(await Promise.all([part.load(), part.load()])).toEqual([1, 1]);
    expect([part.now(), told, loads]).toEqual([1, 1, 1]);
  });

  it("is tried again after a failure, which is said in words", async () => {
    let isThere = false;
    const part = new LaterPart(() => (isThere ? Promise.resolve("part") : Promise.reject(new Error("cut"))));
    await expect(part.load()).rejects.toThrow("a part of the program is not on this device yet");
    isThere = true;
    expect(await part.load()).toBe("part");
  });
});
