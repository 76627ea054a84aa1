import "server-only";
import { betterAuth } from "better-auth/minimal";
import { prismaAdapter } from "better-auth/adapters/prisma";
import { getPrisma } from "../db/client";
import { environment } from "../env";
import { log } from "../log";
import { trustedOrigins } from "./request-origin";

/** Carries the sender's address to the library; always written by us, whatever the sender put there. */
export const CLIENT_ADDRESS_HEADER = "x-shellgate-client";

const SESSION_HOURS = 16;
const SIGN_IN_WINDOW_SECONDS = 60;
const SIGN_INS_PER_ADDRESS = 30;

export const usesSecureCookies = (): boolean => environment("SHELLGATE_ORIGIN").startsWith("https:");

/** The cookie that holds the signed session key. */
export const sessionCookieName = (): string => `${usesSecureCookies() ? "__Secure-" : ""}shellgate.session_token`;

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
    rateLimit: {
      enabled: true,
      storage: "database",
      modelName: "authRateLimit",
      customRules: { "/sign-in/email": { window: SIGN_IN_WINDOW_SECONDS, max: SIGN_INS_PER_ADDRESS } },
    },
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
 * The authentication library: checks passwords, makes and ends sessions, counts attempts. It is reached through sign-in.ts
 * only; none of its own routes is open, and nobody can sign up.
 */
export function getAuthLibrary(): Library {
  const prisma = getPrisma();
  const origin = environment("SHELLGATE_ORIGIN");
  if (known?.prisma !== prisma || known.origin !== origin) known = { origin, prisma, library: makeLibrary(prisma) };
  return known.library;
}
