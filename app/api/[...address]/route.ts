import { AppError } from "@/lib/errors";
import { defineRoute } from "@/lib/server/doors/route";

/** Programs that ask at an address that is none are told so as by every other route, not by a page. */
const nothingHere = {
  auth: "public",
  handler: ({ request }: { readonly request: Request }): never => {
    const { pathname } = new URL(request.url);
    throw new AppError("not-found", `There is nothing at ${pathname.slice(0, 100)}. Nothing was kept.`);
  },
} as const;

export const GET = defineRoute(nothingHere);
export const POST = defineRoute(nothingHere);
export const PUT = defineRoute(nothingHere);
export const PATCH = defineRoute(nothingHere);
export const DELETE = defineRoute(nothingHere);
