"use client";

import { useEffect, useMemo, useState } from "react";
import type { CompiledMeasurement, FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { ToldFrameMeaning, ToldMeaning } from "@/lib/format/meaning-words";
import { SectionHeading } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import { VERDICT_WORDS } from "../../words/verdict";
import styles from "./verdict.module.css";

const words = VERDICT_WORDS.meaning;

type Estimates = Pick<typeof import("@/lib/quality/frame-meaning"), "frameMeaning"> &
  Pick<typeof import("@/lib/format/meaning-words"), "toldFrameMeaning"> &
  Pick<typeof import("@/lib/quality/felt-evidence"), "feltOf">;

/** Loads the estimates apart from the keying: the verdict does not wait for them. */
export async function loadMeanings(): Promise<Estimates> {
  const [{ frameMeaning }, { toldFrameMeaning }, { feltOf }] = await Promise.all([
    import("@/lib/quality/frame-meaning"),
    import("@/lib/format/meaning-words"),
    import("@/lib/quality/felt-evidence"),
  ]);
  return { frameMeaning, toldFrameMeaning, feltOf };
}

type Measured = Readonly<{
  drawing: ShellDrawing;
  compiled: CompiledMeasurement;
  measurement: FrameMeasurement;
  side: Seat;
  attributes?: RecordInspection["attributes"];
}>;

function salvageOf({ salvage }: ToldFrameMeaning): ToldMeaning<unknown> | null {
  if (salvage.summary === "facing") return salvage.facing;
  if (salvage.summary === "retaining compound")
    return salvage.compound.nds.calledFor ? salvage.compound.nds : salvage.compound.ds;
  return salvage.ream.calledFor ? salvage.ream : salvage.facing.calledFor ? salvage.facing : null;
}

/** The estimates of a frame; null until they are loaded and computed. */
export function useFrameMeaning({
  drawing,
  compiled,
  measurement,
  side,
  attributes,
}: Measured): ToldFrameMeaning | null {
  const [estimates, setEstimates] = useState<Estimates | null>(null);
  useEffect(() => {
    let left = false;
    void loadMeanings().then((loaded) => {
      if (!left) setEstimates(loaded);
    });
    return () => {
      left = true;
    };
  }, []);
  return useMemo(
    () =>
      estimates?.toldFrameMeaning(
        estimates.frameMeaning(drawing, {
          measurement,
          uncertainties: compiled.covered,
          ...estimates.feltOf(attributes ?? {}),
        }),
        side,
      ) ?? null,
    [estimates, drawing, measurement, compiled, side, attributes],
  );
}

/** What may save a frame that does not conform; null where the estimates call for nothing, or nothing helps. */
export function reworkOf(meaning: ToldFrameMeaning | null): { readonly title: string; readonly text: string } | null {
  const summary = meaning?.salvage.summary;
  if (meaning === null || (summary !== "line-ream" && summary !== "facing" && summary !== "retaining compound"))
    return null;
  const way = salvageOf(meaning);
  return way === null ? null : { title: words.rework[summary], text: way.sentence };
}

/** What the readings mean for bearings, bars and rework; estimates, and said to be. */
export function FrameMeaningPanel({ meaning }: Readonly<{ meaning: ToldFrameMeaning | null }>) {
  const salvage = meaning === null ? null : salvageOf(meaning);
  return (
    <section className={styles.meaning}>
      <SectionHeading aside={words.estimates20CMakersLimits}>{words.whatMeans}</SectionHeading>
      {meaning === null ? (
        <p className="soft">{words.computing}</p>
      ) : (
        <>
          {(["fit", "clearance", "tilt"] as const).map((what) => (
            <PairRow key={what} ds={meaning.bearings.ds[what]} nds={meaning.bearings.nds[what]} />
          ))}
          <MeaningRow meaning={meaning.functionalSize} />
          {salvage === null ? null : <MeaningRow meaning={salvage} />}
          {[...new Set(meaning.evidence.sentences)].map((sentence) => (
            <p key={sentence} className={styles.evidence}>
              {sentence}
            </p>
          ))}
        </>
      )}
    </section>
  );
}

function MeaningRow({ meaning }: Readonly<{ meaning: ToldMeaning<unknown> }>) {
  return (
    <details className={styles.meaningRow}>
      <summary>
        <span className={styles.meaningTitle}>
          <b>{meaning.title}</b>
          <b>{meaning.figure}</b>
        </span>
        <span className="soft">{keepWhole(meaning.sentence)}</span>
      </summary>
      <p className={styles.explanation}>
        {meaning.explanation} {meaning.assumptions.join("; ")}
      </p>
    </details>
  );
}

/** The same estimate for both seats: the figures beside the title, what they say under it. */
function PairRow({ ds, nds }: Readonly<{ ds: ToldMeaning<unknown>; nds: ToldMeaning<unknown> }>) {
  const same = ds.figure === nds.figure;
  const figure = same ? (ds.figure ?? "") : words.dsNds(ds.figure ?? "?", nds.figure ?? "?");
  return (
    <details className={styles.meaningRow}>
      <summary>
        <span className={styles.meaningTitle}>
          <b>{ds.title.replace(/, DS$/, "")}</b>
          <b>{figure}</b>
        </span>
        <span className={styles.meaningSeat}>{keepWhole([...new Set([ds.sentence, nds.sentence])].join(" "))}</span>
      </summary>
      <p className={styles.explanation}>
        {ds.explanation} {ds.assumptions.join("; ")}
      </p>
    </details>
  );
}
