import { closeConnections } from "@/lib/server/db/client";
import { environment } from "@/lib/server/base/env";
import { createSetUpLink } from "@/lib/server/people/new-plant";

/**
 * Prints the one-time link by which the first administrator of an empty database signs up:
 * DATABASE_URL=... SHELLGATE_ORIGIN=... node lib/cli/run.mjs lib/cli/first-run.ts
 */
try {
  const link = await createSetUpLink(environment("SHELLGATE_ORIGIN"));
  process.stdout.write(
    link === null
      ? "The plant is set up already: sign in, or ask an administrator for a sign-in.\n"
      : `Open this link once, within 24 hours, to set up the plant and its first administrator:\n\n  ${link}\n\n`,
  );
} catch (error) {
  const why = error instanceof Error ? error.message : String(error);
  process.stderr.write(`No set-up link could be made: ${why}\n`);
  process.exitCode = 1;
} finally {
  await closeConnections();
}
