import { randomBytes } from "node:crypto";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { Role } from "@/lib/schemas/people";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { createPerson } from "@/lib/server/people/commands";

export const ORIGIN = "http://localhost:3000";
export const PASSWORD = "eleven-seats-and-one";

/** What the start command would set; a test that needs something else sets it and puts it back. */
export function setTestEnvironment(): void {
  process.env.AUTH_SECRET = randomBytes(32).toString("base64url");
  process.env.SHELLGATE_ORIGIN = ORIGIN;
  process.env.LOG_LEVEL = "error";
  process.env.SHELLGATE_FORWARDED = "0";
  process.env.SHELLGATE_DEMO_SIGN_INS = "0";
  process.env.SHELLGATE_DEMO_ON_NETWORK = "0";
}

export async function createPlant(key: string, invented = false): Promise<Viewer & { kind: "system" }> {
  const plantId = uuidV7();
  await getPool().query(sql`insert into plant (id, key, name, time_zone, invented)
    values (${plantId}, ${key}, ${key}, 'UTC', ${invented})`);
  return { kind: "system", plantId, plantZone: "UTC", name: "test" };
}

export async function createSignIn(system: Viewer, email: string, ...roles: Role[]): Promise<PersonViewer> {
  const name = email.split("@")[0] ?? email;
  const { personId } = await createPerson(system, { name, roles, account: { email, password: PASSWORD } });
  return { kind: "person", plantId: system.plantId, plantZone: system.plantZone, personId, name, roles };
}

/** The Cookie header that a browser would send after these Set-Cookie lines. */
export function cookieHeader(lines: readonly string[]): string {
  return lines.map((line) => line.split(";")[0]).join("; ");
}
