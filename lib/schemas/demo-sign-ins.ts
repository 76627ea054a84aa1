import type { Role } from "./people";

/** One password for everybody in the demo plant: it is printed at the start and protects nothing. */
export const DEMO_PASSWORD = "fennimoor-demo";

export type DemoSignIn = { readonly email: string; readonly name: string; readonly roles: readonly Role[] };

/** The invented people of the demo plant. Their addresses end in .example, which RFC 2606 keeps from existing. */
export const DEMO_SIGN_INS: readonly DemoSignIn[] = [
  { email: "inspector@fennimoor.example", name: "Jette Ostrand", roles: ["inspector"] },
  { email: "second-inspector@fennimoor.example", name: "Ruben Tamsel", roles: ["inspector"] },
  { email: "engineer@fennimoor.example", name: "Ilse Brandow", roles: ["engineer"] },
  { email: "supplier-manager@fennimoor.example", name: "Tomas Wreden", roles: ["supplier_manager"] },
  { email: "dock@fennimoor.example", name: "Kaja Linnvik", roles: ["dock"] },
  { email: "auditor@fennimoor.example", name: "Peter Amsold", roles: ["auditor"] },
  { email: "administrator@fennimoor.example", name: "Nora Fenn", roles: ["administrator"] },
];

const emails: ReadonlySet<string> = new Set(DEMO_SIGN_INS.map(({ email }) => email));

/** Whether these are credentials that everybody can read in this file. */
export function isDemoCredential(email: string, password?: string): boolean {
  return emails.has(email.trim().toLowerCase()) || password === DEMO_PASSWORD;
}
