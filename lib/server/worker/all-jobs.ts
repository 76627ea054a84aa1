import "server-only";
import type { Job } from "../jobs/define-job";
import { anchorJob } from "./anchor-job";
import { tidyJob } from "./tidy-job";

/** Every kind of job that the worker does. A migration makes the queue of each. */
export const ALL_JOBS: readonly Job[] = [anchorJob, tidyJob];
