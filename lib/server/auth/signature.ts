import "server-only";
import { AppError } from "../../errors";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { journalSignatureRefused } from "./access-journal";
import { isPassword } from "./password";
import { assertPerson } from "./permissions";
import { passwordBrake, TooManyTries, underBrakes } from "./tries";
import type { PersonViewer, Viewer } from "./viewer";
import { AUTH_WORDS } from "./words";

const texts = AUTH_WORDS.signature;

/** Where somebody's password is kept; `hash` is what it was when it was checked. */
export type OwnAccount = { readonly id: string; readonly userId: string; readonly hash: string };

/** Of one session: whoever guesses at a screen that was left open does not hold up its person elsewhere. */
const tryKey = ({ personId, sessionId }: PersonViewer): string => `signature of ${personId} in ${sessionId ?? "-"}`;

/**
 * Checks a password that somebody who is signed in types once more. Who stands at a screen that was left open is braked as
 * at the sign-in, and stands in the journal.
 *
 * @param words - what is told of a wrong one: what was not done
 * @throws AppError sign-in-refused; too-many-requests beyond ten failures in five minutes
 */
export async function assertOwnPassword(viewer: PersonViewer, password: string, words: string): Promise<OwnAccount> {
  try {
    return await underBrakes([passwordBrake(tryKey(viewer))], () => checkOwnPassword(viewer, password, words));
  } catch (error) {
    if (error instanceof TooManyTries && error.isFirst) await journalSignatureRefused(viewer, "too many tries");
    throw error;
  }
}

async function checkOwnPassword(viewer: PersonViewer, password: string, words: string): Promise<OwnAccount> {
  const { rows } = await getPool().query<OwnAccount>(sql`
    select a.id, a.user_id as "userId", a.password as hash from person p join auth_account a on a.user_id = p.user_id and a.provider_id = 'credential'
    where p.plant_id = ${viewer.plantId} and p.id = ${viewer.personId} and p.active`);
  const account = rows[0];
  if (account?.hash && (await isPassword(account.hash, password))) return account;
  await journalSignatureRefused(viewer, "wrong password");
  throw new AppError("sign-in-refused", words, { fields: [{ path: "password", message: texts.isNotYourPassword }] });
}

/**
 * A signature: the person types the password once more, at the decision itself. Takes about 0.1 s: before a transaction.
 *
 * @throws AppError forbidden for programs; sign-in-refused when the password is wrong; too-many-requests
 */
export async function assertSigned(viewer: Viewer, password: string): Promise<PersonViewer> {
  assertPerson(viewer);
  await assertOwnPassword(viewer, password, "That is not your password: nothing was signed and nothing was changed.");
  return viewer;
}
