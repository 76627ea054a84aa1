import Link from "next/link";
import { mayDo, type Action } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";
import styles from "./setup-nav.module.css";

const PARTS = [
  { key: "overview", name: "Drawings and plans", href: "/setup", needs: "setup.view" },
  { key: "batches", name: "Batches", href: "/setup/batches", needs: "setup.view" },
  { key: "plant", name: "Lines and models", href: "/setup/plant", needs: "setup.view" },
  { key: "gauges", name: "Gauges", href: "/setup/gauges", needs: "gauges.view" },
  { key: "devices", name: "Devices", href: "/setup/devices", needs: "line.view" },
  { key: "first-off", name: "First-off", href: "/setup/first-off", needs: "line.view" },
  { key: "messages", name: "Messages", href: "/setup/messages", needs: "sending.view" },
  { key: "people", name: "People and tokens", href: "/setup/people", needs: "people.view" },
  { key: "jobs", name: "Jobs", href: "/setup/jobs", needs: "jobs.view" },
  { key: "journal", name: "Journal", href: "/setup/journal", needs: "journal.view" },
] as const satisfies readonly { key: string; name: string; href: string; needs: Action }[];

export type SetupPart = (typeof PARTS)[number]["key"] | "password";

/** The parts of Setup that the viewer may see. */
export function SetupNav({ viewer, current }: Readonly<{ viewer: Viewer; current: SetupPart }>) {
  return (
    <nav className={styles.nav} aria-label="Setup">
      <ul>
        {PARTS.filter(({ needs }) => mayDo(viewer, needs)).map(({ key, name, href }) => (
          <li key={key}>
            <Link href={href} aria-current={key === current ? "page" : undefined}>
              {name}
            </Link>
          </li>
        ))}
        <li>
          <Link href="/setup/password" aria-current={current === "password" ? "page" : undefined}>
            My password
          </Link>
        </li>
      </ul>
    </nav>
  );
}
