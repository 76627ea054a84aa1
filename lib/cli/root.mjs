import path from "node:path";

/** The folder of the project, whatever the working folder is. */
export const ROOT = path.resolve(import.meta.dirname, "../..");
