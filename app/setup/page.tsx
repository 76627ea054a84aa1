import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { formatFixed, withUnit } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listPeople } from "@/lib/server/people/queries";
import { getSetupOverview, listDrawings, listPlans } from "@/lib/server/setup/queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../_components/work-page";
import styles from "./setup.module.css";

export const metadata: Metadata = { title: "Setup" };

const FRAMES_WORDS: Readonly<Record<string, string>> = {
  all: "every frame",
  every: "every n-th frame",
  drawn: "a drawn sample",
};

export default async function SetupPage() {
  const viewer = await requireViewer("/setup", "setup.view");
  const [overview, drawings, plans, people] = await Promise.all([
    getSetupOverview(viewer),
    listDrawings(viewer),
    listPlans(viewer),
    mayDo(viewer, "people.view") ? listPeople(viewer) : [],
  ]);
  const zone = overview.plant.timeZone;
  const day = (time: string | null) => (time === null ? "not yet" : formatDay(time, { zone }));
  return (
    <WorkPage viewer={viewer} current="setup">
      <PageFrame
        head={
          <PageHead
            title={overview.plant.name}
            lead={
              overview.plant.invented
                ? "Invented for demonstration: plant, people, suppliers, limits and numbers. A real plant enters its own drawings."
                : "By which drawing, plan and gauge frames are judged."
            }
            status={
              <>
                {mayDo(viewer, "people.view") ? <ButtonLink href="/setup/people">People and tokens</ButtonLink> : null}
                {mayDo(viewer, "journal.view") ? <ButtonLink href="/setup/journal">Journal</ButtonLink> : null}
              </>
            }
          />
        }
      >
        <div className={styles.columns}>
          <section>
            <SectionHeading aside="a released revision never changes">Drawings</SectionHeading>
            <DataTable
              caption="Drawings"
              captionHidden
              rowHead="key"
              columns={[
                { key: "key", label: "drawing", kind: "code" },
                { key: "title", label: "title" },
                { key: "revisions", label: "revisions" },
              ]}
              rows={drawings.map((drawing) => ({
                key: drawing.id,
                cells: {
                  key: drawing.key,
                  title: drawing.title,
                  revisions: (
                    <>
                      {drawing.revisions.map((one) => (
                        <Link key={one.id} href={`/setup/drawings/${one.id}`} className={styles.revision}>
                          {one.revision} <small>{one.state}</small>
                        </Link>
                      ))}
                    </>
                  ),
                },
              }))}
              empty={<EmptyState title="No drawing yet">An engineer drafts and releases the first one.</EmptyState>}
            />
            <SectionHeading>Measuring plans</SectionHeading>
            <DataTable
              caption="Measuring plans"
              captionHidden
              rowHead="key"
              columns={[
                { key: "key", label: "plan", kind: "code" },
                { key: "revision", label: "revision" },
                { key: "drawing", label: "for drawing", kind: "code" },
                { key: "readings", label: "readings", kind: "numeric" },
                { key: "frames", label: "which frames" },
                { key: "released", label: "released" },
              ]}
              rows={plans.map((plan) => ({
                key: plan.id,
                cells: {
                  key: plan.key,
                  revision: `${plan.revision}, ${plan.state}`,
                  drawing: `${plan.drawingKey} ${plan.drawingRevision}`,
                  readings: String(plan.readingNames.length),
                  frames: FRAMES_WORDS[plan.frames.kind] ?? plan.frames.kind,
                  released: day(plan.releasedAt),
                },
              }))}
              empty={<EmptyState title="No plan yet">A plan says which readings are keyed, in which order.</EmptyState>}
            />
            <SectionHeading aside="an overdue gauge proves nothing for a release">Gauges</SectionHeading>
            <DataTable
              caption="Gauges"
              captionHidden
              rowHead="key"
              columns={[
                { key: "key", label: "gauge", kind: "code" },
                { key: "name", label: "name" },
                { key: "principle", label: "principle" },
                { key: "resolution", label: "resolution", kind: "numeric" },
                { key: "station", label: "station", kind: "code" },
                { key: "until", label: "calibrated until" },
              ]}
              rows={overview.gauges.map((gauge) => ({
                key: gauge.key,
                cells: {
                  key: gauge.key,
                  name: gauge.name,
                  principle: gauge.principle,
                  resolution: withUnit(formatFixed(gauge.resolutionUm, 1), "µm"),
                  station: gauge.station ?? "any",
                  until: gauge.calibratedUntil === null ? "never calibrated" : day(gauge.calibratedUntil),
                },
              }))}
              empty={
                <EmptyState title="No gauge yet">
                  Enter gauges with their calibration before frames are released by them.
                </EmptyState>
              }
            />
          </section>
          <section>
            <SectionHeading>Lines and stations</SectionHeading>
            <ul className={styles.list}>
              {overview.lines.map((line) => (
                <li key={line.key}>
                  <b className="mono">{line.key}</b> {line.name}
                  <ul>
                    {line.stations.map((station) => (
                      <li key={station.key}>
                        <span className="mono">{station.key}</span> {station.name}, {station.operation}, seen from the{" "}
                        {station.viewingSide === "ds" ? "drive side" : "non-drive side"}
                      </li>
                    ))}
                  </ul>
                </li>
              ))}
            </ul>
            <SectionHeading>Suppliers</SectionHeading>
            <ul className={styles.list}>
              {overview.suppliers.map((supplier) => (
                <li key={supplier.key}>
                  <b className="mono">{supplier.key}</b> {supplier.name}, {supplier.batches} batches
                </li>
              ))}
            </ul>
            <SectionHeading>Frame models</SectionHeading>
            <ul className={styles.list}>
              {overview.models.map((model) => (
                <li key={model.key}>
                  {model.name}, drawing <span className="mono">{model.drawing}</span>
                </li>
              ))}
            </ul>
            {people.length > 0 ? (
              <>
                <SectionHeading>People</SectionHeading>
                <ul className={styles.list}>
                  {people.map((person) => (
                    <li key={person.personId}>
                      {person.name}, {person.roles.map((role) => role.replaceAll("_", " ")).join(", ")}
                    </li>
                  ))}
                </ul>
              </>
            ) : null}
          </section>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
