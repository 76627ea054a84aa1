import { z } from "zod";
import { CHOSEN_TESTS } from "../core/control/alarm/chosen-test";
import { seenVersion, sentNumber } from "./typed-number";
import { uuidSchema } from "./uuid";

/** Frames that one baseline has at most. */
export const MOST_BASELINE_FRAMES = 1000;

const cause = z.string().trim().min(3, "say the cause in a few words").max(200);
const serial = z.string().trim().min(1).max(64);

/** Outliers that leave a baseline, each by the cause that somebody assigns to it. */
const causes = z
  .array(z.strictObject({ frame: uuidSchema, cause }))
  .max(100)
  .default([]);

/** More than anybody signs. */
export const MOST_VERSIONS = 100_000;

/** Which frames are to make a baseline: the newest, or those between two serials, both included. */
export const baselineWishSchema = z.strictObject({
  stretch: z.union([
    z.strictObject({
      newest: sentNumber().pipe(
        z
          .int("must be a whole number")
          .min(1, "must be at least 1")
          .max(MOST_BASELINE_FRAMES, `must be at most ${MOST_BASELINE_FRAMES}`),
      ),
    }),
    z.strictObject({ from: serial, to: serial }),
  ]),
  /** The open case that is the reason. */
  caseId: z.union([uuidSchema, z.literal("").transform(() => null), z.null()]).default(null),
  causes,
});

const signed = {
  streamId: uuidSchema,
  /** The newest version that the signer saw, 0 where there was none. */
  versionSeen: seenVersion,
  grounds: z.string().trim().min(3, "give the reason, in a few words").max(2000),
  password: z.string().min(1).max(200),
};

/** Approves a baseline of exactly the frames that were previewed. The password signs. */
export const approveBaselineSchema = z.strictObject({
  ...signed,
  wish: baselineWishSchema,
  /** What the preview was of: frames that came late or were withdrawn since change it. */
  previewed: z.string().length(64),
});

/** Puts an earlier version of a baseline in force again. */
export const rollBackBaselineSchema = z.strictObject({
  ...signed,
  version: seenVersion.pipe(z.number().max(MOST_VERSIONS, "there is no such version")),
  caseId: z.union([uuidSchema, z.literal("").transform(() => null), z.null()]).default(null),
});

/** Tests that a stream has beside those of the scheme; none takes all of them away. */
export const chooseTestsSchema = z.strictObject({
  streamId: uuidSchema,
  versionSeen: seenVersion,
  tests: z
    .array(z.enum(CHOSEN_TESTS))
    .max(CHOSEN_TESTS.length)
    .transform((tests) => CHOSEN_TESTS.filter((test) => tests.includes(test))),
  reason: z.string().trim().min(3, "give the reason, in a few words").max(2000),
});

export type ChooseTests = z.infer<typeof chooseTestsSchema>;
export type BaselineWish = z.infer<typeof baselineWishSchema>;
export type ApproveBaseline = z.infer<typeof approveBaselineSchema>;
export type RollBackBaseline = z.infer<typeof rollBackBaselineSchema>;
