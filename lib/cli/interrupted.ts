import { AppError } from "@/lib/errors";

/** Aborted when the command is told to end, with the words as its reason; a second time ends it at once. */
export function interrupted(words: string): AbortSignal {
  const abort = new AbortController();
  for (const name of ["SIGINT", "SIGTERM", "SIGHUP"] as const)
    process.once(name, () => abort.abort(new AppError("unavailable", words)));
  return abort.signal;
}
