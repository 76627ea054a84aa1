import "server-only";
import { betterAuth } from "better-auth/minimal";
import { prismaAdapter } from "better-auth/adapters/prisma";
import { getPrisma } from "../db/client";
import { environment } from "../base/env";
import { log } from "../base/log";
import { trustedOrigins } from "./request-origin";
import { usesSecureCookies } from "./session-cookie";

/** Carries the sender's address to the library; always written by us, whatever the sender put there. */
export const CLIENT_ADDRESS_HEADER = "x-shellgate-client";

const SESSION_HOURS = 16;

function makeLibrary(prisma: ReturnType<typeof getPrisma>) {
  return betterAuth({
    appName: "Shellgate",
    baseURL: environment("SHELLGATE_ORIGIN"),
    secret: environment("AUTH_SECRET"),
    trustedOrigins: [...trustedOrigins()],
    database: prismaAdapter(prisma, { provider: "postgresql" }),
    user: { modelName: "authUser" },
    // Our own look-up ends idle sessions (session.ts), so the library moves no expiry.
    session: { modelName: "authSession", expiresIn: SESSION_HOURS * 3600, disableSessionRefresh: true },
    account: { modelName: "authAccount" },
    verification: { modelName: "authVerification" },
    emailAndPassword: { enabled: true, disableSignUp: true, minPasswordLength: 12, maxPasswordLength: 128 },
    // It counts right passwords, too, and locks by what it likes: tries.ts does it.
    rateLimit: { enabled: false },
    advanced: {
      cookiePrefix: "shellgate",
      useSecureCookies: usesSecureCookies(),
      disableCSRFCheck: false,
      disableOriginCheck: false,
      defaultCookieAttributes: { sameSite: "lax", httpOnly: true, path: "/" },
      ipAddress: { ipAddressHeaders: [CLIENT_ADDRESS_HEADER] },
    },
    telemetry: { enabled: false },
    logger: {
      level: "error",
      log: (level, message, ...rest) => log[level](`sign-in library: ${message}`, { rest }),
    },
  });
}

type Library = ReturnType<typeof makeLibrary>;
let known:
  { readonly origin: string; readonly prisma: ReturnType<typeof getPrisma>; readonly library: Library } | undefined;

/**
 * The authentication library: checks passwords, makes and ends sessions. It is reached through sign-in.ts
 * only; none of its own routes is open, and nobody can sign up.
 */
export function getAuthLibrary(): Library {
  const prisma = getPrisma();
  const origin = environment("SHELLGATE_ORIGIN");
  if (known?.prisma !== prisma || known.origin !== origin) known = { origin, prisma, library: makeLibrary(prisma) };
  return known.library;
}
