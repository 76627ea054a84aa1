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
import { PLANT_WORDS } from "../../../words/plant";

const texts = PLANT_WORDS.part;

export const metadata: Metadata = { title: texts.changePartOfPlant };

type Part = Readonly<{ title: string; lead: string; form: ReactNode }>;
type Found = Readonly<{
  overview: SetupOverview;
  operations: readonly OperationItem[];
  /** Frames of the line that are still to be measured. */
  toMeasure: number;
}>;
type Named = Readonly<{ key: string; name: string; inUse: boolean; version: number }>;

const DONE = texts.changedAndRecordedInJournal;
const hidden = (name: string, value: string): EntryField => ({ name, label: "", kind: "hidden", value });
const nameField = (value: string): EntryField => ({ name: "name", label: texts.name, value });

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
    form: <EntryForm keep kind="go" fields={fields} action={changeNamedPartAction} submit={texts.save} done={DONE} />,
  };
}

function operationPart(found: OperationItem | undefined): Part | null {
  if (!found) return null;
  const fields: EntryField[] = [
    hidden("key", found.key),
    versionField(found.version),
    nameField(found.name),
    { name: "position", label: texts.placeInRoute, kind: "number", value: String(found.position) },
  ];
  return {
    title: texts.operation(found.key),
    lead: texts.whatWasMeasuredAtStays,
    form: <EntryForm keep kind="go" fields={fields} action={changeOperationAction} submit={texts.save} done={DONE} />,
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
      label: texts.inspectorSeesShell,
      kind: "choice",
      hint: texts.deviceIsSetToKeeps,
      value: found.viewingSide,
      options: [
        { value: "ds", label: texts.fromDriveSide },
        { value: "nds", label: texts.fromNonDriveSide },
      ],
    },
    inUseField(found.inUse, texts.devicesCanBeSetTo),
  ];
  return {
    title: texts.station(found.key),
    lead: texts.itMeasures(found.operation),
    form: <EntryForm keep kind="go" fields={fields} action={changeStationAction} submit={texts.save} done={DONE} />,
  };
}

function lineLead(toMeasure: number): string {
  const out = texts.outOfUse;
  if (toMeasure === 0) return out;
  const frames = toMeasure === 1 ? texts.oneFrameOfIs : texts.framesOfAre(formatCount(toMeasure));
  return texts.stillToBeMeasured(out, frames);
}

function partOf(part: string, key: string, { overview, operations, toMeasure }: Found): Part | null {
  const withKey = (one: { readonly key: string }) => one.key === key;
  switch (part) {
    case "line":
      return namedPart("line", overview.lines.find(withKey), {
        noun: "Line",
        lead: lineLead(toMeasure),
        meaning: texts.batchesCanBeOpenedOn,
      });
    case "supplier":
      return namedPart("supplier", overview.suppliers.find(withKey), {
        noun: "Supplier",
        lead: texts.outOfUseSentence,
        meaning: texts.batchesCanBeOpenedFrom,
      });
    case "model":
      return namedPart("frame_model", overview.models.find(withKey), {
        noun: "Model",
        lead: texts.drawingStays,
        meaning: texts.batchesCanBeOpenedOf,
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
      status={<Link href="/setup/plant">{texts.linesAndModels}</Link>}
    >
      {mayDo(viewer, "setup.draft") ? (
        found.form
      ) : (
        <EmptyState title={texts.engineersChange}>{texts.askOne}</EmptyState>
      )}
    </SetupPage>
  );
}
