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
import styles from "../../setup.module.css";
import { SetupNav } from "../../_components/setup-nav";
import { DrawingSteps } from "./_components/drawing-steps";

export const metadata: Metadata = { title: "Drawing" };

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
    `${formatFixed(upper, 0)} / ${formatFixed(lower, 0)} µm`;
  const seat = boreInIso286(drawing);
  return (
    <KeyValues
      pairs={[
        ...(seat === null
          ? []
          : [
              {
                label: "Seat bore by ISO 286",
                note: `limits from ${formatMm(drawing.nominalBoreMm, 0.1)}`,
                value: iso286Text(seat),
              },
            ]),
        {
          label: "Bearing",
          value: `${bearing.designation}, ${formatFixed(bearing.boreMm, 0)} x ${formatFixed(bearing.outsideDiameterMm, 0)} x ${formatFixed(bearing.widthMm, 0)} mm`,
        },
        {
          label: "Bearing outside diameter",
          note: "upper and lower deviation",
          value: deviations(bearing.outsideDeviationUm),
        },
        {
          label: `Radial clearance ${bearing.clearanceClass}`,
          note: "ISO 5753-1, unmounted",
          value: `${bearing.clearanceUm[0]} to ${bearing.clearanceUm[1]} µm`,
        },
        cup === null
          ? { label: "Cup", value: "none: the bearing sits in the shell" }
          : {
              label: "Cup",
              note: cup.material.name,
              value: `${formatMm(cup.outsideDiameterMm)}, ${deviations(cup.outsideDeviationUm)}, wall ${formatMm(cup.wallMm, 0.1)}`,
            },
        {
          label: "Shell",
          note: drawing.shellMaterial.name,
          value: `outside ${formatMm(drawing.shellOutsideDiameterMm, 0.1)}`,
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
              title={`${drawing.title}, revision ${revision.revision}`}
              lead={
                drawing.invented
                  ? "The limits are a proposal, no standard. The frame maker's drawing decides."
                  : "The frame maker's drawing decides."
              }
              status={revision.state}
            />
          </>
        }
        titleBlock={
          <TitleBlock
            projection
            cells={[
              { label: "drawing", value: revision.drawingKey, code: true },
              { label: "revision", value: revision.revision },
              {
                label: "released",
                value: revision.releasedAt === null ? "not yet" : formatDay(revision.releasedAt, { zone }),
              },
              {
                label: "by",
                value: revision.releasedBy ?? (revision.releasedAt === null ? "nobody yet" : "Shellgate itself"),
              },
              { label: "decision rule", value: DECISION_RULE_WORDS[drawing.decisionRule] },
            ]}
          />
        }
      >
        <DrawingSteps viewer={viewer} revision={revision} />
        <div className={styles.drawing}>
          <Sheet label="The shell by its drawing">
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
            <SectionHeading>Characteristics</SectionHeading>
            <DataTable
              caption="Characteristics and limits"
              captionHidden
              rowHead="name"
              columns={[
                { key: "name", label: "characteristic", cell: (one) => one.name },
                {
                  key: "limits",
                  label: "limits",
                  kind: "numeric",
                  cell: (one) => formatLimits(one.lower, one.upper, CHARACTERISTIC_UNIT[one.name]),
                },
                { key: "critical", label: "critical", cell: (one) => (one.critical ? "yes" : "no") },
                {
                  key: "u",
                  label: "U (k = 2), full plan",
                  kind: "numeric",
                  cell: (one) => formatUncertainty(one.uncertainty, CHARACTERISTIC_UNIT[one.name]),
                },
              ]}
              rows={drawing.characteristics}
              rowKey={(one) => one.name}
            />
            <SectionHeading>What it carries</SectionHeading>
            <Carried drawing={drawing} />
          </div>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
