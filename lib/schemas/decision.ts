import { z } from "zod";
import { FELT_SIDES, FELT_SUBJECTS } from "../core/metrology/felt-subject";
import { seenVersion } from "./typed-number";
import { uuidSchema } from "./uuid";
import { daySchema, momentSchema } from "./moment";

export const DISPOSITIONS = [
  "release",
  "rework",
  "repair",
  "regrade",
  "concession",
  "scrap",
  "return_to_supplier",
  "measure_again",
] as const;
export type Disposition = (typeof DISPOSITIONS)[number];

const grounds = z.string().trim().min(3, "give the reason, in a few words").max(2000);

/** Whose cause the signer says it is. */
export const CAUSES = ["supplier", "ours", "not known"] as const;

const group = {
  id: uuidSchema,
  serials: z.array(z.string().trim().min(1).max(64)).min(1).max(10_000),
  disposition: z.enum(DISPOSITIONS),
  grounds,
  /** Only of a concession, and it needs one: the last day on which it holds, by the plant's calendar, or a moment. */
  lastDay: daySchema.optional(),
  expiresAt: momentSchema.optional(),
  cause: z.enum(CAUSES).optional(),
  /** Why frames go back although the cause is ours. */
  againstCause: z.string().trim().min(3, "say why, in a few words").max(2000).optional(),
  /** What our own cause costs with these frames, in the plant's money. */
  cost: z.number().min(0).max(1e9).optional(),
};
const act = {
  batchId: uuidSchema,
  password: z.string().min(1).max(200),
  /** Version of the batch that the signer saw: a decision on a stale screen is refused. */
  batchVersion: seenVersion,
};

/** What is done with some frames of a batch. The password signs. */
export const decideFramesSchema = z.strictObject({ ...group, ...act });

/** The same for several groups of frames in one act: all of them are recorded, or none. */
export const decideGroupsSchema = z.strictObject({ ...act, groups: z.array(z.strictObject(group)).min(1).max(20) });

/** Opens a held batch whose reasons are all cleared. */
export const releaseBatchSchema = z.strictObject({
  id: uuidSchema,
  batchId: uuidSchema,
  grounds,
  password: z.string().min(1).max(200),
  batchVersion: seenVersion,
});

/** Closes escapes: who was told, what was done so that they do no harm. The password signs. */
export const closeEscapesSchema = z.strictObject({
  id: uuidSchema,
  escapes: z.array(uuidSchema).min(1, "choose which are closed").max(1000),
  told: z.string().trim().min(3, "say who was told, in a few words").max(500),
  grounds,
  password: z.string().min(1).max(200),
});
export type CloseEscapes = z.infer<typeof closeEscapesSchema>;

const feltSide = z.strictObject({ of: z.enum(FELT_SUBJECTS), counts: z.enum(FELT_SIDES) });

/**
 * Which of a frame's inspections that disagree are set aside, the others count; and, where what was felt and what was read
 * contradict each other, which of both counts. The password signs.
 */
export const resolveDisagreementSchema = z
  .strictObject({
    id: uuidSchema,
    serial: z.string().trim().min(1).max(64),
    setAside: z.array(uuidSchema).max(1000).default([]),
    sides: z
      .array(feltSide)
      .max(FELT_SUBJECTS.length)
      .default([])
      .refine((list) => new Set(list.map(({ of }) => of)).size === list.length, "names the same gauges twice"),
    grounds,
    password: z.string().min(1).max(200),
  })
  .refine(({ setAside, sides }) => setAside.length + sides.length > 0, {
    path: ["setAside"],
    message: "choose which inspection is set aside, or which side counts",
  });

export type ResolveDisagreement = z.input<typeof resolveDisagreementSchema>;
export type DecideFrames = z.infer<typeof decideFramesSchema>;
export type DecideGroups = z.infer<typeof decideGroupsSchema>;
export type DecidedGroup = DecideGroups["groups"][number];
/** Takes the risk of the frames of a sampled batch that nobody measured. */
export const acceptSampleRiskSchema = releaseBatchSchema;
export type AcceptSampleRisk = z.infer<typeof acceptSampleRiskSchema>;
export type ReleaseBatch = z.infer<typeof releaseBatchSchema>;

export const withdrawInspectionSchema = z.strictObject({
  id: uuidSchema,
  reason: z.string().trim().min(3, "say why, in a few words").max(500),
});
