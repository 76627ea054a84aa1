import { cookies } from "next/headers";
import { redirect } from "next/navigation";
import type { ReactNode } from "react";
import { getViewer } from "@/lib/server/auth/current-viewer";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { WorkAreaRail, type WorkAreaKey } from "@/lib/ui/work-area-rail";
import { SignOut } from "./sign-out";

const ROLE_WORDS = {
  inspector: "inspector",
  engineer: "production engineer",
  supplier_manager: "supplier manager",
  dock: "dock",
  auditor: "auditor",
  administrator: "administrator",
} as const;

/** The person signed in; visitors without a session go to the sign-in page and come back. */
export async function requireViewer(path: string): Promise<PersonViewer> {
  const viewer = await getViewer();
  if (viewer === null) redirect(`/sign-in?next=${encodeURIComponent(path)}`);
  return viewer;
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
        {...(current === undefined ? {} : { current })}
        {...(query === undefined ? {} : { query })}
        person={{ name: viewer.name, role: viewer.roles.map((role) => ROLE_WORDS[role]).join(", ") }}
        signOut={<SignOut />}
      />
      {children}
    </>
  );
}
