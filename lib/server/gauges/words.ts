import "server-only";

/** What Gauges refuses, in words. */
export const GAUGES_WORDS = {
  studies: {
    noStudy: "There is no such study here. Nothing was kept; open it from the list of studies.",
    noPlace: (asked: number) => `The study has ${asked} readings; this one is none of them. Nothing was kept.`,
  },
  traceBack: {
    isNo: (of: string, key: string) => `There is no ${of} ${key} here. Nothing was changed; choose one that is listed.`,
    endsBeforeItBegins: "The stretch ends before it begins. Nothing was changed; give a later end.",
    mustNotLieBefore: "must not lie before from",
  },
  standing: {
    noGauge: (key: string) => `There is no gauge ${key}. Check its key under Setup.`,
  },
};
