import Link from "next/link";
import { redirect } from "next/navigation";
import { mayDo } from "@/lib/server/auth/permissions";
import { listFirstSteps } from "@/lib/server/plant/first-steps";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { FirstSteps } from "./_components/first-steps";
import { areasOf } from "./_components/rail";
import { requireViewer, WorkPage } from "./_components/work-page";
import { APP_WORDS } from "./_components/words";
import styles from "./page.module.css";

const words = APP_WORDS.firstPage;

export default async function StartPage() {
  const viewer = await requireViewer("/");
  // Who only ships has one question, and it is asked there.
  if (viewer.kind === "person" && viewer.roles.join() === "dock") redirect("/gate/ship");
  const steps = mayDo(viewer, "setup.view") ? await listFirstSteps(viewer) : [];
  return (
    <WorkPage viewer={viewer}>
      <PageFrame head={<PageHead title={words.whereTo} lead={words.lead} />}>
        <FirstSteps viewer={viewer} steps={steps} />
        <ul className={styles.areas}>
          {areasOf(viewer).map((area) => (
            <li key={area.href}>
              <Link className={styles.area} href={area.href}>
                <strong>{area.name}</strong>
                <span className={styles.question}>{area.question}</span>
                <span className={styles.what}>{area.what}</span>
              </Link>
            </li>
          ))}
        </ul>
      </PageFrame>
    </WorkPage>
  );
}
