import "server-only";
import { AsyncLocalStorage } from "node:async_hooks";

type Context = { readonly requestId: string };
const holder: typeof globalThis & { shellgateRequests?: AsyncLocalStorage<Context> } = globalThis;

/** One of a process, whichever bundle of the application asks. */
const requests = (): AsyncLocalStorage<Context> => (holder.shellgateRequests ??= new AsyncLocalStorage());

/** Does the work of a request, so that whatever is logged meanwhile carries its number. */
export function duringRequest<T>(requestId: string, work: () => T): T {
  return requests().run({ requestId }, work);
}

/** The number of the request that is worked on; undefined outside of one. */
export function currentRequestId(): string | undefined {
  return requests().getStore()?.requestId;
}
