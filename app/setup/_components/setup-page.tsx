import type { ReactNode } from "react";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { WorkPage } from "../../_components/work-page";
import { SetupNav, type SetupPart } from "./setup-nav";

/** A sheet of Setup: its parts on top, then what it is about. */
export function SetupPage({
  viewer,
  current,
  title,
  lead,
  status,
  children,
}: Readonly<{
  viewer: PersonViewer;
  current: SetupPart;
  title: ReactNode;
  lead?: ReactNode;
  status?: ReactNode;
  children: ReactNode;
}>) {
  return (
    <WorkPage viewer={viewer} current="setup">
      <PageFrame
        head={
          <>
            <SetupNav viewer={viewer} current={current} />
            <PageHead title={title} lead={lead} status={status} />
          </>
        }
      >
        {children}
      </PageFrame>
    </WorkPage>
  );
}
