import type { Role } from "@/lib/schemas/people";

const ROLE_WORDS = {
  inspector: "inspector",
  engineer: "production engineer",
  supplier_manager: "supplier manager",
  dock: "dock",
  auditor: "auditor",
  administrator: "administrator",
} as const satisfies Record<Role, string>;

export const roleWords = (role: Role): string => ROLE_WORDS[role];

/** Several roles of one person, as a list. */
export const rolesWords = (roles: readonly Role[]): string => roles.map(roleWords).join(", ");
