import "server-only";
import { z } from "zod";
import { endUnusableSessions } from "../auth/sign-in";
import { writeCounted } from "../auth/access-journal";
import { defineJob } from "../jobs/define-job";
import { forgetPapers } from "../papers/papers";
import { tidyJobs } from "../jobs/workers";

/** Removes what nobody can use any more: sessions that ended, counts of wrong passwords, jobs that were done days ago, documents after their week. */
export const tidyJob = defineJob({
  name: "upkeep.tidy",
  title: "remove what nobody can use any more",
  schema: z.strictObject({}),
  everyS: 600,
  tries: 3,
  run: async () => {
    await endUnusableSessions();
    await writeCounted();
    await tidyJobs();
    await forgetPapers();
  },
});
