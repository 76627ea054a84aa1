import { describe, expect, it } from "vitest";
import { byHour, inGroups, inOrder, type TaskKind, type TodayTask } from "@/lib/quality/today/today-task";

const task = (kind: TaskKind, sinceMs: number | null, isMine = true): TodayTask => ({
  key: `${kind} ${sinceMs}`,
  about: { kind } as TodayTask["about"],
  sinceMs,
  href: "/",
  gravity: 0,
  isMine,
  owner: null,
});
const named = (tasks: readonly TodayTask[]) => tasks.map(({ key }) => key);

describe("tasks of a day", () => {
  it("stand with one's own first, then as the duty asks, then the oldest, those of unknown age last", () => {
    const tasks = [
      task("job", 1, false),
      task("batch", 9),
      task("batch", null),
      task("batch", 5),
      task("escapes", 7),
      task("case", 8),
      task("gauge", 3, false),
    ];
    expect(named(inOrder(tasks, "release"))).toEqual([
      "escapes 7",
      "batch 5",
      "batch 9",
      "batch null",
      "case 8",
      "gauge 3",
      "job 1",
    ]);
    expect(named(inOrder(tasks, "process")).slice(0, 2)).toEqual(["case 8", "escapes 7"]);
    expect(named(inOrder(tasks, "installation")).slice(-2)).toEqual(["job 1", "gauge 3"]);
  });

  it("stand with the gravest of a kind first", () => {
    const grave = { ...task("batch", 9), gravity: 13 };
    expect(named(inOrder([task("batch", 1), grave], "release"))).toEqual(["batch 9", "batch 1"]);
  });

  it("keep together what is of a kind, and one's own apart from what others have", () => {
    const groups = inGroups([task("batch", 1), task("batch", 2), task("case", 3), task("batch", 4, false)]);
    expect(groups.map(({ kind, isMine, tasks }) => [kind, isMine, tasks.length])).toEqual([
      ["batch", true, 2],
      ["case", true, 1],
      ["batch", false, 1],
    ]);
  });

  it("leave hours without a frame between those with some", () => {
    const frame = (atMs: number) => ({ serial: String(atMs), verdict: "conforms", atMs });
    const hours = byHour([frame(6), frame(6), frame(9)], (at) => at);
    expect(hours.map(({ hour, frames }) => [hour, frames.length])).toEqual([
      [6, 2],
      [7, 0],
      [8, 0],
      [9, 1],
    ]);
    expect(byHour([], () => 0)).toEqual([]);
  });
});
