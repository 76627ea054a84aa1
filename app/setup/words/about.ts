/** Texts of About this installation. */
export const ABOUT_WORDS = {
  title: "About this installation",
  allWell: "Nothing is wrong with this installation",
  wrong: (count: number) => (count === 1 ? "One thing is wrong" : `${count} things are wrong`),
  lead: "What npm run doctor says on the server, found as this page was opened.",
  heading: "What was looked at",
  state: { wrong: "wrong", remark: "take note", good: "good" },
  subject: "part",
  says: "what was found",
  todo: "what to do",
  nothing: "nothing",
} as const;
