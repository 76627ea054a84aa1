import { ROLES, type Role } from "@/lib/schemas/people";
import { roleWords } from "../../../_components/role-words";
import type { EntryField } from "@/lib/ui/entry-form";

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
