import { z } from "zod";
import type { EntryField } from "@/lib/ui/entry-form";
import { SETUP_WORDS } from "../words/first-page";

const words = SETUP_WORDS.inUse;

/** The box that says whether something is in use, as a form sends it. */
export const inUseBox = z
  .array(z.literal("yes"))
  .default([])
  .transform((ticked) => ticked.length > 0);

/** The same box as a field; `meaning` says what being in use means. */
export function inUseField(inUse: boolean, meaning: string): EntryField {
  return {
    name: "inUse",
    label: words.use,
    kind: "checks",
    value: inUse ? "yes" : "",
    hint: meaning,
    options: [{ value: "yes", label: words.inUse }],
  };
}

/** The version of what is changed as a field: a change to what somebody else changed meanwhile is refused. */
export function versionField(version: number): EntryField {
  return { name: "version", label: "", kind: "hidden", value: String(version) };
}
