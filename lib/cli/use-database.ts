import path from "node:path";
import { DATABASE_NAME, findRunningServer, startEmbedded } from "@/lib/server/db/embedded";

/**
 * Points this process at the plant's database: the one of DATABASE_URL, else the embedded server of the data folder, which is
 * started when it does not run.
 *
 * @returns stops what was started here
 */
export async function useDatabase(options: { readonly folder?: string | undefined }): Promise<() => Promise<void>> {
  if (process.env.DATABASE_URL) return async () => {};
  const folder = path.resolve(options.folder ?? process.env.SHELLGATE_DATA ?? ".data");
  const running = findRunningServer(folder);
  const server = running ?? (await startEmbedded({ folder }));
  process.env.DATABASE_URL = server.url(DATABASE_NAME);
  return running ? async () => {} : () => server.stop();
}
