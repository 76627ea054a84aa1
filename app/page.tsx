import Link from "next/link";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { areasOf, requireViewer, WorkPage } from "./_components/work-page";
import styles from "./page.module.css";

const AREAS = [
  {
    key: "line",
    href: "/line",
    name: "Line",
    question: "What do I measure next, and is it good?",
    what: "Scan a frame, key the plan, read the verdict.",
  },
  {
    key: "drift",
    href: "/drift",
    name: "Drift",
    question: "What is moving, and what do I do?",
    what: "Streams of every line, signals, what to adjust and by how much.",
  },
  {
    key: "gate",
    href: "/gate",
    name: "Gate",
    question: "May it ship, and if not, why?",
    what: "Held batches with their reasons, decisions, the ship scan at the dock.",
  },
  {
    key: "setup",
    href: "/setup",
    name: "Setup",
    question: "By which drawing, plan and gauge?",
    what: "Drawings and their limits, measuring plans, lines, stations, people.",
  },
] as const;

export default async function StartPage() {
  const viewer = await requireViewer("/");
  const own = areasOf(viewer);
  return (
    <WorkPage viewer={viewer}>
      <PageFrame
        head={
          <PageHead
            title="Where to?"
            lead="One work area for each job. Press / to find a serial, batch or stream from anywhere."
          />
        }
      >
        <ul className={styles.areas}>
          {AREAS.filter(({ key }) => own.includes(key)).map((area) => (
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
