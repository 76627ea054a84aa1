import { expect, it } from "vitest";
import {
  assignCaseCauseSchema,
  assignOwnerSchema,
  closeCaseSchema,
  noteStepSchema,
  reopenCaseSchema,
  setBudgetSchema,
} from "@/lib/schemas/case";
import { uuidV7 } from "@/lib/schemas/identifier";

const caseId = uuidV7();

it.each([0, -1, 0.01, 51, "", "many", true, [1], null])("refuses a budget of %s in words", (budget) => {
  const answer = setBudgetSchema.safeParse({ budget });
  expect(answer.success).toBe(false);
  expect(answer.error?.issues[0]?.message).toMatch(/^must be /);
});

it("takes a budget as a form sends it", () => {
  expect(setBudgetSchema.parse({ budget: "0.5" })).toEqual({ budget: 0.5 });
});

it("takes nobody for an owner, and ticks of forms", () => {
  expect(assignOwnerSchema.parse({ caseId, ownerId: "" })).toEqual({ caseId, ownerId: null });
  expect(closeCaseSchema.parse({ caseId, reason: "reground", hasNewLevel: "on" }).hasNewLevel).toBe(true);
  expect(closeCaseSchema.parse({ caseId, reason: "reground" }).hasNewLevel).toBe(false);
});

it("wants words", () => {
  expect(noteStepSchema.safeParse({ caseId, text: " " }).success).toBe(false);
  expect(reopenCaseSchema.safeParse({ caseId, reason: "no" }).success).toBe(false);
  expect(assignCaseCauseSchema.safeParse({ caseId, cause: "" }).success).toBe(false);
});
