import { ROLES, type Role } from "@/lib/schemas/people";
import { roleWords } from "../../../_components/role-words";
import type { EntryField } from "@/lib/ui/entry-form";
import { PEOPLE_WORDS } from "../../words/people";

const words = PEOPLE_WORDS.roles;

/** The roles of somebody, to be ticked. */
export function roleField(roles: readonly Role[]): EntryField {
  return {
    name: "roles",
    label: words.roles,
    kind: "checks",
    value: roles.join(" "),
    options: ROLES.map((role) => ({ value: role, label: roleWords(role) })),
  };
}
