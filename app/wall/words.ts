/** Texts of the view for the wall. */
export const WALL_WORDS = {
  title: "The shop today",
  closed: "This link opens nothing",
  closedHint: "It was revoked, has expired or was copied in part. An administrator makes another under Setup, People.",
  heard: (age: string) => `heard ${age} ago`,
  lost: (time: string) => `No connection since ${time}`,
  lostHint: "What stands here is as old as that.",
  lastDay: (day: string) => `last day measured: ${day}`,
  frames: (count: number) => (count === 1 ? "frame today" : "frames today"),
  framesThen: (count: number) => (count === 1 ? "frame that day" : "frames that day"),
  heldLine: (count: number) => (count === 1 ? "1 frame held" : `${count} frames held`),
  noneHeld: "nothing held",
  since: (moment: string) => `Since ${moment}`,
  owner: (name: string | null) => (name === null ? "nobody has it yet" : `with ${name}`),
  more: (count: number) => `and ${count} more open ${count === 1 ? "case" : "cases"}`,
  steady: "no case is open",
  noLine: "No line is in use",
};
