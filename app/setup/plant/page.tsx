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

export const metadata: Metadata = { title: "Lines, stations, models" };

const SIDES = [
  { value: "ds", label: "from the drive side" },
  { value: "nds", label: "from the non-drive side" },
];
const KEY = { name: "key", label: "key", kind: "code" } as const;
const NAME = { name: "name", label: "name" } as const;

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
    <SetupPage
      viewer={viewer}
      current="plant"
      title="Lines, stations, suppliers and models"
      lead="In this order: a line and an operation, a station of both, a supplier, and a model built to a drawing."
    >
      <div className={parts.parts}>
        <section>
          <SectionHeading>Lines</SectionHeading>
          <DataTable
            caption="Lines"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "line",
                kind: "code",
                cell: (line) => <PartLink href="/setup/plant/line" part={line.key} out={outWords(line.inUse)} />,
              },
              { key: "name", label: "name", cell: (line) => line.name },
              { key: "stations", label: "stations", kind: "numeric", cell: (line) => String(line.stations.length) },
            ]}
            rows={overview.lines}
            rowKey={(line) => line.key}
            empty={<EmptyState title="No line yet">A line is where frames are made, one after the other.</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm inline fields={[KEY, NAME]} action={createLineAction} submit="Add the line" done="Added." />
          ) : null}
        </section>
        <section>
          <SectionHeading aside="places in the route where frames are measured">Operations</SectionHeading>
          <DataTable
            caption="Operations"
            captionHidden
            rowHead="key"
            columns={[
              { key: "position", label: "place", kind: "numeric", cell: ({ position }) => String(position) },
              {
                key: "key",
                label: "operation",
                kind: "code",
                cell: ({ key }) => <PartLink href="/setup/plant/operation" part={key} />,
              },
              { key: "name", label: "name", cell: ({ name }) => name },
            ]}
            rows={operations}
            rowKey={({ key }) => key}
            empty={<EmptyState title="No operation yet">After machining, after paint, incoming.</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                { name: "position", label: "place in the route", kind: "number", hint: "1 is the first" },
              ]}
              action={createOperationAction}
              submit="Add the operation"
              done="Added."
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>Stations</SectionHeading>
          <DataTable
            caption="Stations"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "station",
                kind: "code",
                cell: ({ key, line, lineInUse, inUse }) => (
                  <PartLink
                    href="/setup/plant/station"
                    part={key}
                    out={outWords(inUse) || (!lineInUse && "out of use with its line")}
                  />
                ),
              },
              { key: "name", label: "name", cell: ({ name }) => name },
              { key: "line", label: "line", kind: "code", cell: ({ line }) => line },
              { key: "operation", label: "operation", cell: ({ operation }) => operation },
              {
                key: "side",
                label: "the shell is seen",
                cell: ({ viewingSide }) => (viewingSide === "ds" ? "from the DS" : "from the NDS"),
              },
            ]}
            rows={stations}
            rowKey={({ key }) => key}
            empty={<EmptyState title="No station yet">A station is where one inspector measures.</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                {
                  name: "line",
                  label: "line",
                  kind: "choice",
                  options: choices(overview.lines.filter((line) => line.inUse)),
                },
                { name: "operation", label: "operation", kind: "choice", options: choices(operations) },
                { name: "viewingSide", label: "the inspector sees the shell", kind: "choice", options: SIDES },
              ]}
              action={createStationAction}
              submit="Add the station"
              done="Added; a device can be set to it in Line."
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>Suppliers</SectionHeading>
          <DataTable
            caption="Suppliers"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "supplier",
                kind: "code",
                cell: ({ key, inUse }) => <PartLink href="/setup/plant/supplier" part={key} out={outWords(inUse)} />,
              },
              { key: "name", label: "name", cell: ({ name }) => name },
              { key: "batches", label: "batches", kind: "numeric", cell: ({ batches }) => String(batches) },
            ]}
            rows={overview.suppliers}
            rowKey={({ key }) => key}
            empty={<EmptyState title="No supplier yet">Your own workshop is one, too.</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[KEY, NAME]}
              action={createSupplierAction}
              submit="Add the supplier"
              done="Added."
            />
          ) : null}
        </section>
        <section>
          <SectionHeading>Frame models</SectionHeading>
          <DataTable
            caption="Frame models"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "model",
                kind: "code",
                cell: ({ key, inUse }) => <PartLink href="/setup/plant/model" part={key} out={outWords(inUse)} />,
              },
              { key: "name", label: "name", cell: ({ name }) => name },
              { key: "drawing", label: "drawing", kind: "code", cell: ({ drawing }) => drawing },
            ]}
            rows={overview.models}
            rowKey={({ key }) => key}
            empty={<EmptyState title="No model yet">A model is built to one shell drawing.</EmptyState>}
          />
          {mayDraft ? (
            <EntryForm
              inline
              fields={[
                KEY,
                NAME,
                {
                  name: "drawing",
                  label: "shell drawing",
                  kind: "choice",
                  options: drawings.map(({ key, title }) => ({ value: key, label: `${key}, ${title}` })),
                },
              ]}
              action={createFrameModelAction}
              submit="Add the model"
              done="Added."
            />
          ) : null}
        </section>
        {mayDraft ? (
          <section>
            <SectionHeading>Plant</SectionHeading>
            <EntryForm
              keep
              fields={[
                versionField(plant.version),
                { name: "name", label: "name of the plant", value: plant.name },
                { name: "timeZone", label: "time zone", value: plant.timeZone, hint: "shifts and days go by it" },
              ]}
              action={changePlantAction}
              submit="Save"
              done="Changed, and recorded in the journal."
            />
          </section>
        ) : null}
      </div>
    </SetupPage>
  );
}
