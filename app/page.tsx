import type { Metadata } from "next";
import Link from "next/link";
import { redirect } from "next/navigation";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { QUIET_WORDS, todayHeadline, todayLead } from "@/lib/format/today-words";
import { TASK_KINDS, type TaskKind } from "@/lib/quality/today/today-task";
import { mayDo } from "@/lib/server/auth/permissions";
import { countMessages } from "@/lib/server/messages/inbox";
import { getPlant } from "@/lib/server/plant/queries";
import { listFirstSteps } from "@/lib/server/plant/first-steps";
import { readToday, type TodayPage } from "@/lib/server/today/queries";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { TitleBlock } from "@/lib/ui/title-block";
import { FirstSteps } from "./_components/first-steps";
import { LiveRefresh } from "./_components/live-refresh";
import { TodayDay } from "./_components/today-day";
import { TodayTasks } from "./_components/today-tasks";
import { areasOf, firstPageOf } from "./_components/rail";
import { requireViewer, WorkPage } from "./_components/work-page";
import { APP_WORDS } from "./_components/words";
import today from "./_components/today.module.css";
import styles from "./page.module.css";

const words = APP_WORDS.today;

export const metadata: Metadata = { title: words.title };

/** Ages are as old as this at most; jobs that fail are told by nobody. */
const REFRESH_MS = 60_000;

function Noughts({ kinds }: Readonly<{ kinds: readonly TaskKind[] }>) {
  return (
    <ul className={today.noughts}>
      {kinds.map((kind) => (
        <li key={kind}>
          <b>0</b> <span>{QUIET_WORDS[kind]}</span>
        </li>
      ))}
    </ul>
  );
}

/** What is coming, and what of the kinds is quiet. */
function Coming({ page, zone }: Readonly<{ page: TodayPage; zone: string }>) {
  const quiet = page.kinds.filter((kind) => page.tasks.every(({ about }) => about.kind !== kind));
  if (page.due.length === 0 && page.worn.length === 0 && (quiet.length === 0 || page.tasks.length === 0)) return null;
  return (
    <section className={today.coming}>
      <SectionHeading>{words.coming}</SectionHeading>
      <ul>
        {page.worn.map(({ line, tool, least, most }) => (
          <li key={`${line} ${tool}`}>
            <Link href={`/drift?line=${encodeURIComponent(line)}`}>
              {keepWhole(words.worn(line, tool, least, most))}
            </Link>
          </li>
        ))}
        {page.due.map(({ gauge, dueMs }) => (
          <li key={gauge}>
            <Link href={`/gauges/${encodeURIComponent(gauge)}`}>
              {keepWhole(words.due(gauge, formatDay(dueMs, { zone })))}
            </Link>
          </li>
        ))}
        {quiet.length === 0 || page.tasks.length === 0 ? null : (
          <li className="soft">{words.quiet(quiet.map((kind) => `0 ${QUIET_WORDS[kind]}`).join(", "))}</li>
        )}
      </ul>
    </section>
  );
}

export default async function StartPage() {
  const viewer = await requireViewer("/");
  // Who only ships, or only measures, has one question, and it is asked there.
  const elsewhere = firstPageOf(viewer);
  if (elsewhere !== null) redirect(elsewhere);
  const { plantZone: zone } = viewer;
  const [steps, page, plant, messages] = await Promise.all([
    mayDo(viewer, "setup.view") ? listFirstSteps(viewer) : [],
    readToday(viewer),
    mayDo(viewer, "setup.view") ? getPlant(viewer) : null,
    countMessages(viewer),
  ]);
  const mine = page.tasks.filter(({ isMine }) => isMine).length;
  const isQuiet = page.tasks.length === 0;
  const isBeginning = steps.some(({ done }) => !done);
  const frames = page.lines.reduce((sum, { measured }) => sum + measured, 0);
  const nowMs = Date.parse(page.now);
  return (
    <WorkPage viewer={viewer} current="today">
      <PageFrame
        head={
          <PageHead
            title={isQuiet ? <span className={today.headline}>{todayHeadline(mine)}</span> : todayHeadline(mine)}
            lead={todayLead(page.tasks, { nowMs, messages, seesAll: page.kinds.length === TASK_KINDS.length })}
            status={mayDo(viewer, "drift.view") ? <LiveRefresh zone={zone} everyMs={REFRESH_MS} /> : null}
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              ...(plant === null ? [] : [{ label: words.plant, value: plant.name }]),
              { label: words.waiting, value: words.withYou(mine, page.tasks.length - mine) },
              ...(page.isToday && page.day !== null
                ? [{ label: words.measuredCell, value: words.frames(frames) }]
                : []),
              ...(page.kinds.includes("gauge")
                ? [{ label: words.calibrations, value: words.within(page.due.length) }]
                : []),
              { label: words.asOf, value: formatMoment(page.now, { zone }) },
            ]}
          />
        }
      >
        <FirstSteps viewer={viewer} steps={steps} />
        {isQuiet ? <Noughts kinds={page.kinds} /> : <TodayTasks tasks={page.tasks} nowMs={nowMs} zone={zone} />}
        <Coming page={page} zone={zone} />
        {mayDo(viewer, "line.view") ? <TodayDay page={page} zone={zone} /> : null}
        {mayDo(viewer, "records.view") ? (
          <p className={today.month}>
            <Link href="/month">{words.month}</Link>
          </p>
        ) : null}
        {isBeginning ? (
          <ul className={styles.areas}>
            {areasOf(viewer)
              .filter(({ key }) => key !== "today")
              .map((area) => (
                <li key={area.href}>
                  <Link className={styles.area} href={area.href}>
                    <strong>{area.name}</strong>
                    <span className={styles.question}>{area.question}</span>
                    <span className={styles.what}>{area.what}</span>
                  </Link>
                </li>
              ))}
          </ul>
        ) : null}
      </PageFrame>
    </WorkPage>
  );
}
