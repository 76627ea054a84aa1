/** What people call a field whose name says too little, or says it in a program's way. */
const WORDS: Readonly<Record<string, string>> = {
  at: "time",
  biasUm: "bias in µm",
  badgeCode: "badge",
  batchId: "batch",
  batchVersion: "version of the batch",
  certifiedSizeMm: "certified size in mm",
  clockSkewMs: "distance of the clock in ms",
  deviceId: "device",
  deviceTime: "time of the device",
  dueAt: "day on which it is due",
  expiresAt: "end",
  grounds: "reason",
  inspectorCode: "inspector's badge",
  key: "short name",
  lastDay: "last day",
  lineId: "line",
  newPassword: "new password",
  offsetsMs: "times of the readings",
  personId: "person",
  planRevisionId: "measuring plan",
  readingMm: "reading in mm",
  resolutionUm: "resolution in µm",
  stationId: "station",
  uncertaintyUm: "uncertainty in µm",
};

/** "calibratedUntil" as "calibrated until". */
const inWords = (name: string): string =>
  name
    .replace(/(?:Id|Key)$/, "")
    .replace(/[A-Z]+/g, (capitals) => ` ${capitals.toLowerCase()}`)
    .trim();

/**
 * A place in what was sent as a person reads it: "serials[2].mould" is "serials, number 3, mould".
 *
 * @param path - names and positions, as programs are told it
 */
export function fieldInWords(path: string): string {
  return path
    .split(/[.[\]]/)
    .filter((part) => part !== "")
    .map((part) => (/^\d+$/.test(part) ? `number ${Number(part) + 1}` : (WORDS[part] ?? inWords(part))))
    .join(", ");
}
