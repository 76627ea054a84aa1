import { cookies } from "next/headers";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { countMessages } from "@/lib/server/messages/inbox";
import { MessageCount } from "@/lib/ui/message-count";
import { parseTheme, THEME_COOKIE } from "@/lib/ui/theme";
import { WorkAreaRail } from "@/lib/ui/work-area-rail";
import { WORK_AREAS, type WorkArea, type WorkAreaKey } from "@/lib/ui/work-areas";
import { rolesWords } from "./role-words";
import { SignOut } from "./sign-out";

/** Whose first page is the area of their one duty: the scan at the dock, the station. Null: Today. */
export function firstPageOf({ roles }: PersonViewer): string | null {
  if (roles.length !== 1) return null;
  return roles[0] === "dock" ? "/gate/ship" : roles[0] === "inspector" ? "/line" : null;
}

/** The work areas that are a person's own: the others stay off their rail. */
export function areasOf(viewer: PersonViewer): WorkArea[] {
  return WORK_AREAS.filter(({ view }) => (view === null ? firstPageOf(viewer) === null : mayDo(viewer, view)));
}

/** The rail of whoever is signed in, in the theme of their browser. */
export async function Rail({
  viewer,
  current,
  query,
  isMessages = false,
}: Readonly<{
  viewer: PersonViewer;
  current?: WorkAreaKey | undefined;
  query?: string | undefined;
  isMessages?: boolean | undefined;
}>) {
  const waiting = await countMessages(viewer);
  return (
    <WorkAreaRail
      theme={parseTheme((await cookies()).get(THEME_COOKIE)?.value)}
      areas={areasOf(viewer)}
      {...(current === undefined ? {} : { current })}
      {...(query === undefined ? {} : { query })}
      person={{ name: viewer.name, role: rolesWords(viewer.roles) }}
      messages={<MessageCount key={waiting} initial={waiting} isHere={isMessages} />}
      signOut={<SignOut />}
    />
  );
}
