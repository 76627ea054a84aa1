import { signOut } from "@/lib/server/auth/sign-in";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Ends the session and leads to the sign-in page; made for a plain form on every page. */
export const POST = defineRoute({
  auth: "public",
  handler: async ({ request }) => {
    const response = new Response(null, {
      status: 303,
      headers: { location: "/sign-in", "cache-control": "no-store" },
    });
    for (const line of await signOut(request.headers)) response.headers.append("set-cookie", line);
    return response;
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
