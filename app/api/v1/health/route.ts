import { readHealth } from "@/lib/server/doors/health";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Whether this process can do its work: 200, or 503 while the database is away, full or not migrated. */
export const GET = defineRoute({
  auth: "public",
  handler: async () => {
    const health = await readHealth();
    // A disk that runs low is for who looks after it; what is on it is still served.
    const status = health.database === "ok" ? 200 : 503;
    return Response.json(health, { status, headers: { "cache-control": "no-store" } });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
