import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { formatDay } from "@/lib/format/date-text";
import { gaugeStudyFinding } from "@/lib/quality/gauge-study-finding";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getStudy, type StudyPage } from "@/lib/server/gauges/studies";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { StudyKeying } from "../../_components/study-keying";
import { studyHeadline, StudyResults } from "../../_components/study-results";
import { keyStudyReadingAction } from "../../actions";
import { STUDY_WORDS } from "../../words";

const words = STUDY_WORDS;

export const metadata: Metadata = { title: words.list.title };

function Keying({ page, who, mayKey }: Readonly<{ page: StudyPage; who: string | null; mayKey: boolean }>) {
  const { study, progress, next } = page;
  return (
    <>
      <p>{words.keying.chooseYourself}</p>
      <FilterNav label={words.keying.who}>
        {progress.map(({ inspector, keyed, of }) => (
          <Link
            key={inspector}
            href={`/gauges/studies/${study.id}?inspector=${encodeURIComponent(inspector)}`}
            aria-current={inspector === who ? "page" : undefined}
          >
            {inspector} <small>{words.keying.progress(keyed, of)}</small>
          </Link>
        ))}
      </FilterNav>
      {next !== null && mayKey ? (
        <StudyKeying study={study.id} unit={study.unit} asked={next} action={keyStudyReadingAction} />
      ) : null}
      {next === null && who !== null && progress.some(({ inspector }) => inspector === who) ? (
        <p>
          {words.keying.through(who)} {words.keying.waiting}
        </p>
      ) : null}
    </>
  );
}

async function pageOf(viewer: PersonViewer, id: string, who: string | null): Promise<StudyPage> {
  try {
    return await getStudy(viewer, id, who);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

export default async function StudyPageOf({ params, searchParams }: PageProps<"/gauges/studies/[id]">) {
  const { id } = await params;
  const { inspector } = await searchParams;
  const viewer = await requireViewer(`/gauges/studies/${id}`, "gauges.view");
  const who = typeof inspector === "string" ? inspector : null;
  const page = await pageOf(viewer, id, who);
  const { study, readings } = page;
  const finding = readings === null ? null : gaugeStudyFinding(readings);
  const { parts, inspectors, trials } = study;
  const day = formatDay(study.at, { zone: viewer.plantZone });
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead
            title={finding?.ok === true ? studyHeadline(study, finding.value) : study.title}
            lead={words.results.lead(parts.length, inspectors.length, trials, day)}
            status={<Link href="/gauges/studies">{words.plan.back}</Link>}
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              { label: words.results.block.study, value: study.title },
              { label: words.results.block.gauge, value: study.gauge, code: true },
              { label: words.results.block.method, value: words.results.method },
              { label: words.results.block.size, value: words.results.size(parts.length, inspectors.length, trials) },
              { label: words.results.block.planned, value: day },
            ]}
          />
        }
      >
        {finding === null ? (
          <Keying page={page} who={who} mayKey={mayDo(viewer, "line.zero-check")} />
        ) : finding.ok ? (
          <StudyResults study={study} finding={finding.value} />
        ) : (
          <ErrorNotice title={words.results.noAnswer}>{finding.reason}</ErrorNotice>
        )}
      </PageFrame>
    </WorkPage>
  );
}
