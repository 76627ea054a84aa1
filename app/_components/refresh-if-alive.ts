/**
 * Refreshes where the server answers. A refresh that cannot reach it leaves the page for the browser's own page of errors,
 * which never comes back by itself.
 */
export async function refreshIfAlive(refresh: () => void): Promise<void> {
  const answer = await fetch("/api/v1/alive", { cache: "no-store" }).catch(() => null);
  if (answer?.ok === true) refresh();
}
