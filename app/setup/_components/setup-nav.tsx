import Link from "next/link";
import { mayDo, type Action } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";
import { SETUP_WORDS } from "../words/first-page";
import styles from "./setup-nav.module.css";

const words = SETUP_WORDS.rooms;

const PARTS = [
  { key: "overview", name: words.overview, href: "/setup", needs: "setup.view" },
  { key: "batches", name: words.batches, href: "/setup/batches", needs: "setup.view" },
  { key: "plant", name: words.plant, href: "/setup/plant", needs: "setup.view" },
  { key: "gauges", name: words.gauges, href: "/setup/gauges", needs: "gauges.view" },
  { key: "devices", name: words.devices, href: "/setup/devices", needs: "line.view" },
  { key: "first-off", name: words.firstOff, href: "/setup/first-off", needs: "line.view" },
  { key: "messages", name: words.messages, href: "/setup/messages", needs: "sending.view" },
  { key: "people", name: words.people, href: "/setup/people", needs: "people.view" },
  { key: "jobs", name: words.jobs, href: "/setup/jobs", needs: "jobs.view" },
  { key: "backups", name: words.backups, href: "/setup/backups", needs: "backups.view" },
  { key: "journal", name: words.journal, href: "/setup/journal", needs: "journal.view" },
  { key: "about", name: words.about, href: "/setup/about", needs: "backups.view" },
] as const satisfies readonly { key: string; name: string; href: string; needs: Action }[];

export type SetupPart = (typeof PARTS)[number]["key"] | "password";

/** The parts of Setup that the viewer may see. */
export function SetupNav({ viewer, current }: Readonly<{ viewer: Viewer; current: SetupPart }>) {
  return (
    <nav className={styles.nav} aria-label={words.setup}>
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
            {words.myPassword}
          </Link>
        </li>
      </ul>
    </nav>
  );
}
