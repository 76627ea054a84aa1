import "server-only";
import { hashPassword, verifyPassword } from "better-auth/crypto";
import { AppError } from "../../errors";
import { DEMO_PASSWORD } from "../../schemas/demo-sign-ins";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.password;

/** Scrypt with a random salt, as the library stores it. Takes about 0.1 s, so compute it before a transaction. */
export async function hashNewPassword(password: string): Promise<string> {
  if (password === DEMO_PASSWORD) {
    const message = words.mustNotBePassword;
    throw new AppError("invalid-input", words.passwordNothingWasChanged(message), {
      fields: [{ path: "password", message }],
    });
  }
  return hashPassword(password);
}

/** The one hash for all demo sign-ins. Only the loader of the invented plant needs it. */
export async function unsafeHashDemoPassword(): Promise<string> {
  return hashPassword(DEMO_PASSWORD);
}

export async function isPassword(hash: string, password: string): Promise<boolean> {
  return verifyPassword({ hash, password });
}
