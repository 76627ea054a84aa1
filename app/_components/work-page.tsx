import { forbidden, redirect } from "next/navigation";
import type { ReactNode } from "react";
import { getViewer } from "@/lib/server/auth/current-viewer";
import { mayDo, type Action } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import type { WorkAreaKey } from "@/lib/ui/work-areas";
import { Rail } from "./rail";

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

/** A page under the rail of work areas. */
export function WorkPage({
  viewer,
  current,
  query,
  isMessages,
  children,
}: Readonly<{
  viewer: PersonViewer;
  current?: WorkAreaKey;
  query?: string;
  /** It is the page of messages, which belongs to no area. */
  isMessages?: boolean;
  children: ReactNode;
}>) {
  return (
    <>
      <Rail viewer={viewer} current={current} query={query} isMessages={isMessages} />
      {children}
    </>
  );
}
