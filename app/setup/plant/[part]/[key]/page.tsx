import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import type { ReactNode } from "react";
import { formatCount } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { countToMeasure } from "@/lib/server/batches/queries";
import { getSetupOverview, listOperations, type OperationItem, type SetupOverview } from "@/lib/server/plant/queries";
import { EmptyState } from "@/lib/ui/empty-state";
import { requireViewer } from "../../../../_components/work-page";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
import { inUseField, versionField } from "../../../_components/in-use";
import { SetupPage } from "../../../_components/setup-page";
import { changeNamedPartAction, changeOperationAction, changeStationAction } from "../../actions";

export const metadata: Metadata = { title: "Change a part of the plant" };

type Part = Readonly<{ title: string; lead: string; form: ReactNode }>;
type Found = Readonly<{
  overview: SetupOverview;
  operations: readonly OperationItem[];
  /** Frames of the line that are still to be measured. */
  toMeasure: number;
}>;
type Named = Readonly<{ key: string; name: string; inUse: boolean; version: number }>;

const DONE = "Changed, and recorded in the journal.";
const hidden = (name: string, value: string): EntryField => ({ name, label: "", kind: "hidden", value });
const nameField = (value: string): EntryField => ({ name: "name", label: "name", value });

function namedPart(
  part: "line" | "supplier" | "frame_model",
  found: Named | undefined,
  words: Readonly<{ noun: string; lead: string; meaning: string }>,
): Part | null {
  if (!found) return null;
  const fields = [
    hidden("part", part),
    hidden("key", found.key),
    versionField(found.version),
    nameField(found.name),
    inUseField(found.inUse, words.meaning),
  ];
  return {
    title: `${words.noun} ${found.key}`,
    lead: words.lead,
    form: <EntryForm keep kind="go" fields={fields} action={changeNamedPartAction} submit="Save" done={DONE} />,
  };
}

function operationPart(found: OperationItem | undefined): Part | null {
  if (!found) return null;
  const fields: EntryField[] = [
    hidden("key", found.key),
    versionField(found.version),
    nameField(found.name),
    { name: "position", label: "place in the route", kind: "number", value: String(found.position) },
  ];
  return {
    title: `Operation ${found.key}`,
    lead: "What was measured at it stays; screens show the new name.",
    form: <EntryForm keep kind="go" fields={fields} action={changeOperationAction} submit="Save" done={DONE} />,
  };
}

function stationPart(found: SetupOverview["lines"][number]["stations"][number] | undefined): Part | null {
  if (!found) return null;
  const fields: EntryField[] = [
    hidden("key", found.key),
    versionField(found.version),
    nameField(found.name),
    {
      name: "viewingSide",
      label: "the inspector sees the shell",
      kind: "choice",
      hint: "a device that is set to it keeps its side: change it there too",
      value: found.viewingSide,
      options: [
        { value: "ds", label: "from the drive side" },
        { value: "nds", label: "from the non-drive side" },
      ],
    },
    inUseField(found.inUse, "devices can be set to it"),
  ];
  return {
    title: `Station ${found.key}`,
    lead: `It measures ${found.operation}. Line and operation stay: what was measured here belongs to their streams.`,
    form: <EntryForm keep kind="go" fields={fields} action={changeStationAction} submit="Save" done={DONE} />,
  };
}

function lineLead(toMeasure: number): string {
  const out = "Out of use, it gets no new batches and its stations leave Line.";
  if (toMeasure === 0) return out;
  const frames = toMeasure === 1 ? "One frame of it is" : `${formatCount(toMeasure)} frames of it are`;
  return `${out} ${frames} still to be measured: measure them, or decide on them at the gate, first.`;
}

function partOf(part: string, key: string, { overview, operations, toMeasure }: Found): Part | null {
  const withKey = (one: { readonly key: string }) => one.key === key;
  switch (part) {
    case "line":
      return namedPart("line", overview.lines.find(withKey), {
        noun: "Line",
        lead: lineLead(toMeasure),
        meaning: "batches can be opened on it",
      });
    case "supplier":
      return namedPart("supplier", overview.suppliers.find(withKey), {
        noun: "Supplier",
        lead: "Out of use, it gets no new batches; those that came stay.",
        meaning: "batches can be opened from it",
      });
    case "model":
      return namedPart("frame_model", overview.models.find(withKey), {
        noun: "Model",
        lead: "Its drawing stays. Another shell is another model.",
        meaning: "batches can be opened of it",
      });
    case "operation":
      return operationPart(operations.find(withKey));
    case "station":
      return stationPart(overview.lines.flatMap((line) => line.stations).find(withKey));
    default:
      return null;
  }
}

export default async function PlantPartPage({ params }: PageProps<"/setup/plant/[part]/[key]">) {
  const { part, key: encoded } = await params;
  const viewer = await requireViewer(`/setup/plant/${part}/${encoded}`, "setup.view");
  const key = addressPart(encoded);
  const [overview, operations, toMeasure] = await Promise.all([
    getSetupOverview(viewer),
    listOperations(viewer),
    part === "line" ? countToMeasure(viewer, key) : 0,
  ]);
  const found = partOf(part, key, { overview, operations, toMeasure });
  if (found === null) notFound();
  return (
    <SetupPage
      viewer={viewer}
      current="plant"
      title={found.title}
      lead={found.lead}
      status={<Link href="/setup/plant">Lines and models</Link>}
    >
      {mayDo(viewer, "setup.draft") ? (
        found.form
      ) : (
        <EmptyState title="Engineers change this">Ask one, or a person with that role.</EmptyState>
      )}
    </SetupPage>
  );
}
