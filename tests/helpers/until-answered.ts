/** Tries of a request that a busy machine puts off, and the wait between two, ms. */
const MOST_TRIES = 30;
const WAIT_MS = 500;

/** Sends again, as a program does, what the computing thread did not reach before its deadline (503). */
export async function untilAnswered(send: () => Promise<Response>): Promise<Response> {
  for (let tried = 1; ; tried += 1) {
    const response = await send();
    if (response.status !== 503 || tried === MOST_TRIES) return response;
    await new Promise((resolve) => setTimeout(resolve, WAIT_MS));
  }
}
