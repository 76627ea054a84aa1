import { cookies } from "next/headers";
import { forbidden, redirect } from "next/navigation";
import type { ReactNode } from "react";
import { getViewer } from "@/lib/server/auth/current-viewer";
import { mayDo, type Action } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { WORK_AREAS, WorkAreaRail, type WorkAreaKey } from "@/lib/ui/work-area-rail";
import { SignOut } from "./sign-out";

const ROLE_WORDS = {
  inspector: "inspector",
  engineer: "production engineer",
  supplier_manager: "supplier manager",
  dock: "dock",
  auditor: "auditor",
  administrator: "administrator",
} as const;

const VIEW_OF_AREA = {
  line: "line.view",
  drift: "drift.view",
  gate: "gate.view",
  setup: "setup.view",
} as const satisfies Record<WorkAreaKey, Action>;

/**
 * The person signed in; visitors without a session go to the sign-in page and come back.
 *
 * @param path - where they come back to
 * @param needed - what the page's queries will ask for: who may not do it is told so, instead of an error
 */
export async function requireViewer(path: string, needed?: Action): Promise<PersonViewer> {
  const viewer = await getViewer();
  if (viewer === null) redirect(`/sign-in?next=${encodeURIComponent(path)}`);
  if (needed !== undefined && !mayDo(viewer, needed)) forbidden();
  return viewer;
}

/** The work areas that are a person's own: the others stay off their rail. */
export function areasOf(viewer: PersonViewer): WorkAreaKey[] {
  return WORK_AREAS.map(({ key }) => key).filter((key) => mayDo(viewer, VIEW_OF_AREA[key]));
}

/** A page under the rail of work areas. */
export async function WorkPage({
  viewer,
  current,
  query,
  children,
}: Readonly<{ viewer: PersonViewer; current?: WorkAreaKey; query?: string; children: ReactNode }>) {
  const theme = parseTheme((await cookies()).get(THEME_COOKIE)?.value);
  return (
    <>
      <WorkAreaRail
        theme={theme}
        areas={areasOf(viewer)}
        {...(current === undefined ? {} : { current })}
        {...(query === undefined ? {} : { query })}
        person={{ name: viewer.name, role: viewer.roles.map((role) => ROLE_WORDS[role]).join(", ") }}
        signOut={<SignOut />}
      />
      {children}
    </>
  );
}
