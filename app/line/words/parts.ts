/** Texts of parts that several screens of Line have. */
export const LINE_PART_WORDS = {
  keypad: {
    keypad: "Keypad",
    deleteLastDigit: "delete the last digit",
    delete: "delete",
    changeSign: "change the sign",
    clear: "clear",
    decimalSign: "decimal sign",
  },
  reasonDialog: {
    whatGaugeOrScannerSent: "What a gauge or a scanner sent was not taken: this is asked first.",
    inOtherWords: "In other words",
    keep: "Keep",
    back: "Back",
  },
};
