import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";

/** What a start does to a data folder before it serves anything, in a process of its own that a test can kill. */
const server = await startEmbedded({ folder: process.argv[2] ?? "", forTests: true });
try {
  await prepareDatabase({ ownerUrl: server.url(), appUrl: server.appUrl() });
} finally {
  await server.stop();
}
