import "server-only";

/** Texts that the room evidence says to people, by the file that says them. */
export const EVIDENCE_WORDS = {
  earlierInspections: {
    inspectionRefersToPlanRevision: (planRevisionId: string) =>
      `An inspection refers to the plan revision ${planRevisionId}, which is not released.`,
  },
  gaugeUse: {
    gaugeWasUmOff: (gauge: string, sign: string, zeroErrorUm: string, at: string, limitUm: number) =>
      `gauge ${gauge} was ${sign}${zeroErrorUm} µm off at its zero check of ${at} (limit ${limitUm} µm)`,
  },
  referenceData: {
    planRevisionAsksForReading: (id: string, reason: string) =>
      `Plan revision ${id} asks for a reading that has no name: ${reason}`,
    badgeBelongsToNobody: (code: string, kept: string) =>
      `The badge ${code} belongs to nobody who works here. ${kept} Scan the badge again.`,
    deviceWasTakenOut: (deviceId: string) =>
      `Device ${deviceId} was taken out of use. Nothing was stored; what is on it stays there: save it to a file and call the engineer.`,
  },
  storedEvidence: {
    inspectionOf: (ordinal: number, measuredAt: string) => `inspection ${ordinal} of ${measuredAt}`,
  },
};
