import { NextResponse, type NextRequest } from "next/server";

const NOWHERE = "/nothing-at-this-address";
const SESSION_COOKIE = /^(?:__Secure-)?shellgate\.session_token$/;

/** An address that no page can have: broken percent-encoding, or the character U+0000, which no text can hold. */
function isBroken(address: string): boolean {
  try {
    return decodeURIComponent(address).includes("\0");
  } catch {
    return true;
  }
}

/**
 * Answers broken addresses with the page that says there is nothing here, and leads visitors without a session cookie to the sign-in page and back. A courtesy only: who may see or do what is decided
 * where the data are read and changed.
 */
export function proxy(request: NextRequest): NextResponse {
  const { pathname, search } = new URL(request.url);
  if (isBroken(pathname) || isBroken(search)) return NextResponse.rewrite(new URL(NOWHERE, request.url));
  if (request.cookies.getAll().some(({ name }) => SESSION_COOKIE.test(name))) return NextResponse.next();
  const target = request.nextUrl.clone();
  target.pathname = "/sign-in";
  target.search = pathname === "/" && search === "" ? "" : `?next=${encodeURIComponent(pathname + search)}`;
  return NextResponse.redirect(target);
}

export const config = {
  // Not for machines (/api), sign-in and set-up, the program's own files, and anything with a file ending.
  matcher: ["/((?!api/|sign-in|set-up/|_next/|.*\\.[a-z0-9]+$).*)"],
};
