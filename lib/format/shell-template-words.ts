import type { ShellTemplateKey } from "@/lib/quality/shell-templates";

/** What people read of a shell in use: by dimension, never by a maker's name. */
export type ShellTemplateWords = { readonly title: string; readonly carries: string; readonly source: string };

const BY_DIMENSION = "dimensions published; limits are a proposal, a builder's drawing decides";

export const SHELL_TEMPLATE_WORDS: Readonly<Record<ShellTemplateKey, ShellTemplateWords>> = {
  "press-fit-41": { title: "Press fit 41", carries: "flanged cups in a plain bore of 41 mm", source: BY_DIMENSION },
  "press-fit-42": {
    title: "Press fit 42, with circlips",
    carries: "bearing 30 x 42 x 7 straight in the shell",
    source: "open standard for the dimensions; bore P7 (ISO 286) is a proposal",
  },
  "press-fit-46": { title: "Press fit 46", carries: "cups that hold a 42 mm bearing", source: BY_DIMENSION },
  "press-fit-37": {
    title: "Press fit 37",
    carries: "bearing of 37 mm outside diameter straight in the shell",
    source: "dimensions published; bore P7 (ISO 286) is a proposal",
  },
};
