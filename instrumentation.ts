/** Runs once when the server starts: ties the journal's chains into one head, now and every minute. */
export async function register(): Promise<void> {
  if (process.env.NEXT_RUNTIME !== "nodejs") return;
  const { keepJournalAnchored } = await import("./lib/server/journal/keep-anchored");
  keepJournalAnchored();
}
