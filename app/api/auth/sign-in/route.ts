import { signInSchema } from "@/lib/schemas/sign-in";
import { signIn } from "@/lib/server/auth/sign-in";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Signs in without the page: answers 204 with the session's cookie. */
export const POST = defineRoute({
  auth: "public",
  schemas: { body: signInSchema },
  maxBodyBytes: 4096,
  handler: async ({ body, request }) => {
    const response = new Response(null, { status: 204, headers: { "cache-control": "no-store" } });
    for (const line of await signIn(body, request.headers)) response.headers.append("set-cookie", line);
    return response;
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
