import { ROLES, type Role } from "@/lib/schemas/people";
import type { EntryField } from "@/lib/ui/entry-form";

export const roleWords = (role: Role): string => role.replaceAll("_", " ");

/** The roles of somebody, to be ticked. */
export function roleField(roles: readonly Role[]): EntryField {
  return {
    name: "roles",
    label: "roles",
    kind: "checks",
    value: roles.join(" "),
    options: ROLES.map((role) => ({ value: role, label: roleWords(role) })),
  };
}
