import "server-only";

/** Texts that the room batches says to people, by the file that says them. */
export const BATCHES_WORDS = {
  commands: {
    planMeasuresDrawing: (plan: string, planDrawing: string, model: string, modelDrawing: string) =>
      `Plan ${plan} measures drawing ${planDrawing}, but model ${model} is built to ${modelDrawing}. Nothing was changed.`,
    mustBePlanForDrawing: (modelDrawing: string) => `must be a plan for drawing ${modelDrawing}`,
    planIsNotReleasedYet: (plan: string) => `Plan ${plan} is not released yet. Nothing was changed; release it first.`,
    isNotReleasedYet: "is not released yet",
    batch: (serial: string, batch: string) => `${serial} (batch ${batch})`,
    andMore: (count: number) => ` and ${count} more`,
    theseSerialsAreKnownAlready: (named: string, more: string) =>
      `These serials are known already: ${named}${more}. Nothing was changed.`,
    isInBatchAlready: (serial: string, batch: string) => `${serial} is in batch ${batch} already`,
  },
  setSampling: {
    wasSetMeanwhile: (supplier: string, model: string) =>
      `The sampling of ${supplier}, ${model} was set by somebody else since you opened this page. Nothing was changed. Look again and decide then.`,
  },
};
