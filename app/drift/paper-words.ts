/** Texts of asking for a document. */
export const PAPER_REQUEST_WORDS = {
  ask: "Make a PDF",
  making: "The document is being made.",
  progress: "share of the document that is made",
  open: "Save the PDF",
  noAnswer: "The server did not answer. No document was made; try again.",
  shift: {
    title: "What the line measured, on paper",
    from: "from, by the plant’s clock",
    to: "to",
    ask: "Make a PDF of this stretch",
  },
} as const;
