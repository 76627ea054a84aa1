import type { Metadata } from "next";
import { notFound } from "next/navigation";
import { AppError } from "@/lib/errors";
import { CHARACTERISTIC_UNIT, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatDay } from "@/lib/format/date-text";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { iso286Text } from "@/lib/format/iso-286-text";
import { formatFixed, formatLimits, formatMm, formatUncertainty } from "@/lib/format/number-text";
import { boreInIso286 } from "@/lib/quality/bore-in-iso-286";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getDrawingRevision, type DrawingRevisionPage } from "@/lib/server/drawings/queries";
import { DataTable } from "@/lib/ui/data-table";
import { KeyValues } from "@/lib/ui/key-values";
import { PageFrame, PageHead, SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { ShellDrawing as ShellSheet } from "@/lib/ui/shell-drawing";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { DRAWING_WORDS } from "../../words/drawings";
import styles from "../../setup.module.css";
import { SetupNav } from "../../_components/setup-nav";
import { DrawingSteps } from "./_components/drawing-steps";

const words = DRAWING_WORDS.drawing;

export const metadata: Metadata = { title: words.drawing };

async function findRevision(viewer: PersonViewer, id: string): Promise<DrawingRevisionPage> {
  try {
    return await getDrawingRevision(viewer, id);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

function Carried({ drawing }: Readonly<{ drawing: ShellDrawing }>) {
  const { bearing, cup } = drawing.carries;
  const deviations = ([upper, lower]: readonly [number, number]) =>
    words.um(formatFixed(upper, 0), formatFixed(lower, 0));
  const seat = boreInIso286(drawing);
  return (
    <KeyValues
      pairs={[
        ...(seat === null
          ? []
          : [
              {
                label: words.seatBoreByIso286,
                note: words.limitsFrom(formatMm(drawing.nominalBoreMm, 0.1)),
                value: iso286Text(seat),
              },
            ]),
        {
          label: words.bearing,
          value: words.xXMm(
            bearing.designation,
            formatFixed(bearing.boreMm, 0),
            formatFixed(bearing.outsideDiameterMm, 0),
            formatFixed(bearing.widthMm, 0),
          ),
        },
        {
          label: words.bearingOutsideDiameter,
          note: words.upperAndLowerDeviation,
          value: deviations(bearing.outsideDeviationUm),
        },
        {
          label: words.radialClearance(bearing.clearanceClass),
          note: words.iso57531Unmounted,
          value: words.toUm(bearing.clearanceUm[0], bearing.clearanceUm[1]),
        },
        cup === null
          ? { label: words.cup, value: words.noneBearingSitsInShell }
          : {
              label: words.cup,
              note: cup.material.name,
              value: words.wall(
                formatMm(cup.outsideDiameterMm),
                deviations(cup.outsideDeviationUm),
                formatMm(cup.wallMm, 0.1),
              ),
            },
        {
          label: words.shell,
          note: drawing.shellMaterial.name,
          value: words.outside(formatMm(drawing.shellOutsideDiameterMm, 0.1)),
        },
      ]}
    />
  );
}

export default async function DrawingPage({ params }: PageProps<"/setup/drawings/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/setup/drawings/${id}`, "setup.view");
  const revision = await findRevision(viewer, id);
  const { plantZone: zone } = viewer;
  const { drawing } = revision;
  return (
    <WorkPage viewer={viewer} current="setup">
      <PageFrame
        head={
          <>
            <SetupNav viewer={viewer} current="overview" />
            <PageHead
              title={words.revision(drawing.title, revision.revision)}
              lead={drawing.invented ? words.limitsAreProposal : words.frameMakersDrawingDecides}
              status={revision.state}
            />
          </>
        }
        titleBlock={
          <TitleBlock
            projection
            cells={[
              { label: words.drawingLabel, value: revision.drawingKey, code: true },
              { label: words.revisionLabel, value: revision.revision },
              {
                label: words.released,
                value: revision.releasedAt === null ? words.notYet : formatDay(revision.releasedAt, { zone }),
              },
              {
                label: words.by,
                value: revision.releasedBy ?? (revision.releasedAt === null ? words.nobodyYet : words.shellgateItself),
              },
              { label: words.decisionRule, value: DECISION_RULE_WORDS[drawing.decisionRule] },
            ]}
          />
        }
      >
        <DrawingSteps viewer={viewer} revision={revision} />
        <div className={styles.drawing}>
          <Sheet label={words.shellByDrawing}>
            <ShellSheet
              drawing={drawing}
              side="ds"
              sections={(["ds", "nds"] as const).flatMap((seat) =>
                drawing.fullPlanDepthsMm.map((depthMm) => ({ seat, depthMm, taken: 0, planned: 0, meanMm: null })),
              )}
              asked={null}
              marks={[]}
            />
          </Sheet>
          <div>
            <SectionHeading>{words.characteristics}</SectionHeading>
            <DataTable
              caption={words.characteristicsAndLimits}
              captionHidden
              rowHead="name"
              columns={[
                { key: "name", label: words.characteristic, cell: (one) => one.name },
                {
                  key: "limits",
                  label: words.limits,
                  kind: "numeric",
                  cell: (one) => formatLimits(one.lower, one.upper, CHARACTERISTIC_UNIT[one.name]),
                },
                { key: "critical", label: words.critical, cell: (one) => (one.critical ? words.yes : words.no) },
                {
                  key: "u",
                  label: words.uK2FullPlan,
                  kind: "numeric",
                  cell: (one) => formatUncertainty(one.uncertainty, CHARACTERISTIC_UNIT[one.name]),
                },
              ]}
              rows={drawing.characteristics}
              rowKey={(one) => one.name}
            />
            <SectionHeading>{words.whatCarries}</SectionHeading>
            <Carried drawing={drawing} />
          </div>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
