import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { getMetrics } from "@/lib/server/installation/metrics";

const OPEN = "application/openmetrics-text; version=1.0.0; charset=utf-8";
const PLAIN = "text/plain; version=0.0.4; charset=utf-8";

/** Numbers for a program that watches, in the form that it asks for. */
export const GET = defineRoute({
  auth: "viewer",
  handler: async ({ viewer, request }) => {
    const isOpen = request.headers.get("accept")?.includes("application/openmetrics-text") ?? false;
    const headers = { "content-type": isOpen ? OPEN : PLAIN, "cache-control": "no-store" };
    return new Response(await getMetrics(viewer, isOpen), { headers });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
