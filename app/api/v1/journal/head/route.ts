import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { getJournal } from "@/lib/server/audit/journal-page";

/** The journal's newest anchor as a file to keep outside: against it a cut end shows. */
export const GET = defineRoute({
  auth: "viewer",
  handler: async ({ viewer }) => {
    const { head, anchoredAt, entries } = await getJournal(viewer, { limit: 1 });
    const body = JSON.stringify({ head, anchoredAt, entries, hash: "SHA-256" }, null, 2);
    const day = anchoredAt?.slice(0, 10) ?? "none";
    return new Response(`${body}\n`, {
      headers: {
        "content-type": "application/json",
        "cache-control": "no-store",
        "content-disposition": `attachment; filename="shellgate-journal-head-${day}.json"`,
      },
    });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
