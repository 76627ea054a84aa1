import { NextResponse, type NextRequest } from "next/server";

const SESSION_COOKIE = /^(?:__Secure-)?shellgate\.session_token$/;

/**
 * Leads visitors without a session cookie to the sign-in page and back. A courtesy only: who may see or do what is decided
 * where the data are read and changed.
 */
export function proxy(request: NextRequest): NextResponse {
  if (request.cookies.getAll().some(({ name }) => SESSION_COOKIE.test(name))) return NextResponse.next();
  const { pathname, search } = request.nextUrl;
  const target = request.nextUrl.clone();
  target.pathname = "/sign-in";
  target.search = pathname === "/" && search === "" ? "" : `?next=${encodeURIComponent(pathname + search)}`;
  return NextResponse.redirect(target);
}

export const config = {
  // Not for machines (/api), sign-in and set-up, the program's own files, and anything with a file ending.
  matcher: ["/((?!api/|sign-in|set-up/|_next/|.*\\.[a-z0-9]+$).*)"],
};
