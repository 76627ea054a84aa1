import { NextResponse, type NextRequest } from "next/server";

const NOWHERE = "/nothing-at-this-address";
/** Pages whose address is the key to them. */
const OWN_KEY = /^\/(?:new-plant|wall)\//;
const SESSION_COOKIE = /^(?:__Secure-)?shellgate\.session_token$/;

/** An address that no page can have: broken percent-encoding, or the character U+0000, which no text can hold. */
function isBroken(address: string): boolean {
  try {
    return decodeURIComponent(address).includes("\0");
  } catch {
    return true;
  }
}

/** What a program that sent a broken address is told, as RFC 9457 lays it down. */
function brokenProblem(): NextResponse {
  const detail =
    "The address holds a character that is not written in UTF-8, or U+0000. Nothing was kept; encode each part of the address and send it again.";
  const problem = { type: "urn:shellgate:problem:invalid-input", title: "invalid input", status: 400, detail };
  const headers = { "content-type": "application/problem+json", "cache-control": "no-store" };
  return new NextResponse(JSON.stringify({ ...problem, code: "invalid-input" }), { status: 400, headers });
}

/**
 * Answers broken addresses with the page that says there is nothing here, and leads visitors without a session cookie to the sign-in page and back. A courtesy only: who may see or do what is decided
 * where the data are read and changed.
 */
export function proxy(request: NextRequest): NextResponse {
  const { pathname, search } = new URL(request.url);
  const isForPrograms = pathname.startsWith("/api/");
  if (isBroken(pathname) || isBroken(search))
    return isForPrograms ? brokenProblem() : NextResponse.rewrite(new URL(NOWHERE, request.url));
  if (isForPrograms || pathname === "/metrics" || OWN_KEY.test(pathname)) return NextResponse.next();
  if (request.cookies.getAll().some(({ name }) => SESSION_COOKIE.test(name))) return NextResponse.next();
  const target = request.nextUrl.clone();
  target.pathname = "/sign-in";
  target.search = pathname === "/" && search === "" ? "" : `?next=${encodeURIComponent(pathname + search)}`;
  return NextResponse.redirect(target);
}

export const config = {
  // Not for machines (/api), sign-in and set-up, the program's own files, and anything with a file ending.
  // Those only where a percent sign could make the address a broken one.
  matcher: [
    "/((?!api/|sign-in|new-plant/|wall/|_next/|.*\\.[a-z0-9]+$).*)",
    "/(api|new-plant|wall|frames|gate)/(.*%.*)",
  ],
};
