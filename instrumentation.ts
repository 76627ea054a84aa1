/**
 * Runs once when the server starts: keeps out strangers' names, forged changes, endless bodies and methods that no route can be asked
 * by, and makes the computing thread.
 */
/** A page that failed because the database is away, held up or full is answered as such, not as a fault of the program. */
export async function onRequestError(error: unknown): Promise<void> {
  if (process.env.NEXT_RUNTIME !== "nodejs") return;
  const { noteTrouble } = await import("./lib/server/doors/trouble");
  noteTrouble(error);
}

export async function register(): Promise<void> {
  if (process.env.NEXT_RUNTIME !== "nodejs") return;
  const { guardDoor } = await import("./lib/server/doors/http-door");
  guardDoor();
  const { refuseUnanswerableMethods } = await import("./lib/server/doors/unanswerable-methods");
  refuseUnanswerableMethods();
  const { startComputing } = await import("./lib/server/compute/compute");
  startComputing();
}
