import type { Role } from "./people";

/** One password for everybody in the demo plant: it is printed at the start and protects nothing. */
export const DEMO_PASSWORD = "fennimoor-demo";

export type DemoSignIn = { readonly email: string; readonly name: string; readonly roles: readonly Role[] };

/** The invented people of the demo plant. Their addresses end in .example, which RFC 2606 keeps from existing. */
export const DEMO_SIGN_INS: readonly DemoSignIn[] = [
  { email: "inspector@fennimoor.example", name: "Ines Varrow", roles: ["inspector"] },
  { email: "second-inspector@fennimoor.example", name: "Tavin Quill", roles: ["inspector"] },
  { email: "engineer@fennimoor.example", name: "Hale Brandreth", roles: ["engineer"] },
  { email: "supplier-manager@fennimoor.example", name: "Mira Oskell", roles: ["supplier_manager"] },
  { email: "dock@fennimoor.example", name: "Juno Pell", roles: ["dock"] },
  { email: "auditor@fennimoor.example", name: "Edda Lorne", roles: ["auditor"] },
  { email: "administrator@fennimoor.example", name: "Ansel Thorby", roles: ["administrator"] },
];

const emails: ReadonlySet<string> = new Set(DEMO_SIGN_INS.map(({ email }) => email));

/** Whether these are credentials that everybody can read in this file. */
export function isDemoCredential(email: string, password?: string): boolean {
  return emails.has(email.trim().toLowerCase()) || password === DEMO_PASSWORD;
}
