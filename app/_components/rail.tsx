import { cookies } from "next/headers";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { WorkAreaRail } from "@/lib/ui/work-area-rail";
import { WORK_AREAS, type WorkArea, type WorkAreaKey } from "@/lib/ui/work-areas";
import { SignOut } from "./sign-out";

const ROLE_WORDS = {
  inspector: "inspector",
  engineer: "production engineer",
  supplier_manager: "supplier manager",
  dock: "dock",
  auditor: "auditor",
  administrator: "administrator",
} as const;

/** The work areas that are a person's own: the others stay off their rail. */
export function areasOf(viewer: PersonViewer): WorkArea[] {
  return WORK_AREAS.filter(({ view }) => mayDo(viewer, view));
}

/** The rail of whoever is signed in, in the theme of their browser. */
export async function Rail({
  viewer,
  current,
  query,
}: Readonly<{ viewer: PersonViewer; current?: WorkAreaKey | undefined; query?: string | undefined }>) {
  return (
    <WorkAreaRail
      theme={parseTheme((await cookies()).get(THEME_COOKIE)?.value)}
      areas={areasOf(viewer)}
      {...(current === undefined ? {} : { current })}
      {...(query === undefined ? {} : { query })}
      person={{ name: viewer.name, role: viewer.roles.map((role) => ROLE_WORDS[role]).join(", ") }}
      signOut={<SignOut />}
    />
  );
}
