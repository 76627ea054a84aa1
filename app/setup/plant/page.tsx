import type { Metadata } from "next";
import { mayDo } from "@/lib/server/auth/permissions";
import { getPlant, getSetupOverview, listOperations } from "@/lib/server/plant/queries";
import { listDrawings } from "@/lib/server/drawings/queries";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { versionField } from "../_components/in-use";
import { outWords, PartLink } from "../_components/part-link";
import { PLANT_WORDS } from "../words/plant";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import {
  createFrameModelAction,
  createLineAction,
  createOperationAction,
  createStationAction,
  createSupplierAction,
} from "../actions";
import { changePlantAction } from "./actions";

const words = PLANT_WORDS.plant;

export const metadata: Metadata = { title: words.linesStationsModels };

const SIDES = [
  { value: "ds", label: words.fromDriveSide },
  { value: "nds", label: words.fromNonDriveSide },
];
const KEY = { name: "key", label: words.key, kind: "code" } as const;
const NAME = { name: "name", label: words.name } as const;

export default async function PlantPage() {
  const viewer = await requireViewer("/setup/plant", "setup.view");
  const [overview, operations, drawings, plant] = await Promise.all([
    getSetupOverview(viewer),
    listOperations(viewer),
    listDrawings(viewer),
    getPlant(viewer),
  ]);
  const mayDraft = mayDo(viewer, "setup.draft");
  const stations = overview.lines.flatMap((line) =>
    line.stations.map((one) => ({ ...one, line: line.key, lineInUse: line.inUse })),
  );
  const choices = (items: readonly { key: string; name: string }[]) =>
    items.map(({ key, name }) => ({ value: key, label: `${key}, ${name}` }));
  return (
    <SetupPage viewer={viewer} current="plant" title={words.linesStationsSuppliersAndModels} lead={words.lead}>
      <div className={parts.parts}>
        <section>
          <SectionHeading>{words.lines}</SectionHeading>
          <DataTable
            caption={words.lines}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.line,
                kind: "code",
                cell: (line) => <PartLink href="/setup/plant/line" part={line.key} out={outWords(line.inUse)} />,
              },
              { key: "name", label: words.name, cell: (line) => line.name },
              { key: "stations", label: words.stations, kind: "numeric", cell: (line) => String(line.stations.length) },
            ]}
            rows={overview.lines}
            rowKey={(line) => line.key}
            empty={<EmptyState title={words.noLineYet}>{words.lineIsWhereFrames}</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[KEY, NAME]}
              action={createLineAction}
              submit={words.addLine}
              done={words.added}
            />
          ) : null}
        </section>
        <section>
          <SectionHeading aside={words.placesInRouteWhereFrames}>{words.operations}</SectionHeading>
          <DataTable
            caption={words.operations}
            captionHidden
            rowHead="key"
            columns={[
              { key: "position", label: words.place, kind: "numeric", cell: ({ position }) => String(position) },
              {
                key: "key",
                label: words.operation,
                kind: "code",
                cell: ({ key }) => <PartLink href="/setup/plant/operation" part={key} />,
              },
              { key: "name", label: words.name, cell: ({ name }) => name },
            ]}
            rows={operations}
            rowKey={({ key }) => key}
            empty={<EmptyState title={words.noOperationYet}>{words.afterMachiningAfterPaintIncoming}</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                { name: "position", label: words.placeInRoute, kind: "number", hint: words.firstPlaceHint },
              ]}
              action={createOperationAction}
              submit={words.addOperation}
              done={words.added}
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>{words.stationsHeading}</SectionHeading>
          <DataTable
            caption={words.stationsHeading}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.station,
                kind: "code",
                cell: ({ key, line, lineInUse, inUse }) => (
                  <PartLink
                    href="/setup/plant/station"
                    part={key}
                    out={outWords(inUse) || (!lineInUse && words.outOfUseWithLine)}
                  />
                ),
              },
              { key: "name", label: words.name, cell: ({ name }) => name },
              { key: "line", label: words.line, kind: "code", cell: ({ line }) => line },
              { key: "operation", label: words.operation, cell: ({ operation }) => operation },
              {
                key: "side",
                label: words.shellIsSeen,
                cell: ({ viewingSide }) => (viewingSide === "ds" ? words.fromDs : words.fromNds),
              },
            ]}
            rows={stations}
            rowKey={({ key }) => key}
            empty={<EmptyState title={words.noStationYet}>{words.stationIsWhereOneInspector}</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                {
                  name: "line",
                  label: words.line,
                  kind: "choice",
                  options: choices(overview.lines.filter((line) => line.inUse)),
                },
                { name: "operation", label: words.operation, kind: "choice", options: choices(operations) },
                { name: "viewingSide", label: words.inspectorSeesShell, kind: "choice", options: SIDES },
              ]}
              action={createStationAction}
              submit={words.addStation}
              done={words.addedDeviceCanBeSet}
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>{words.suppliers}</SectionHeading>
          <DataTable
            caption={words.suppliers}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.supplier,
                kind: "code",
                cell: ({ key, inUse }) => <PartLink href="/setup/plant/supplier" part={key} out={outWords(inUse)} />,
              },
              { key: "name", label: words.name, cell: ({ name }) => name },
              { key: "batches", label: words.batches, kind: "numeric", cell: ({ batches }) => String(batches) },
            ]}
            rows={overview.suppliers}
            rowKey={({ key }) => key}
            empty={<EmptyState title={words.noSupplierYet}>{words.yourOwnWorkshopIsOne}</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[KEY, NAME]}
              action={createSupplierAction}
              submit={words.addSupplier}
              done={words.added}
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>{words.frameModels}</SectionHeading>
          <DataTable
            caption={words.frameModels}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.model,
                kind: "code",
                cell: ({ key, inUse }) => <PartLink href="/setup/plant/model" part={key} out={outWords(inUse)} />,
              },
              { key: "name", label: words.name, cell: ({ name }) => name },
              { key: "drawing", label: words.drawing, kind: "code", cell: ({ drawing }) => drawing },
            ]}
            rows={overview.models}
            rowKey={({ key }) => key}
            empty={<EmptyState title={words.noModelYet}>{words.modelIsBuilt}</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                {
                  name: "drawing",
                  label: words.shellDrawing,
                  kind: "choice",
                  options: drawings.map(({ key, title }) => ({ value: key, label: `${key}, ${title}` })),
                },
              ]}
              action={createFrameModelAction}
              submit={words.addModel}
              done={words.added}
            />
          ) : null}
        </section>
        {mayDraft ? (
          <section>
            <SectionHeading>{words.plant}</SectionHeading>
            <EntryForm
              keep
              fields={[
                versionField(plant.version),
                { name: "name", label: words.nameOfPlant, value: plant.name },
                { name: "timeZone", label: words.timeZone, value: plant.timeZone, hint: words.shiftsAndDaysGoBy },
              ]}
              action={changePlantAction}
              submit={words.save}
              done={words.changedAndRecordedInJournal}
            />
          </section>
        ) : null}
      </div>
    </SetupPage>
  );
}
