"use client";

import { useId, useState, type FormEvent } from "react";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import {
  CHARACTERISTIC_NAMES,
  CHARACTERISTIC_UNIT,
  type CharacteristicName,
  type DecisionRule,
  type Material,
  type ShellDrawing,
} from "@/lib/core/metrology/shell-drawing";
import { ALUMINIUM, COMPOSITE, TITANIUM } from "@/lib/quality/demonstration-drawings";
import { planWarningText } from "@/lib/format/plan-words";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field, Tick } from "@/lib/ui/field";
import { SectionHeading, Sheet } from "@/lib/ui/page-frame";
import { DECISION_RULE_WORDS } from "@/lib/format/decision-rule-text";
import { ShellDrawing as ShellSheet } from "@/lib/ui/shell-drawing";
import { focusFirstWrong, useAction } from "@/lib/ui/use-action";
import { saveDrawingAction } from "../actions";
import { drawingEntrySchema, placeOf, type DrawingEntry } from "./drawing-entry";
import { DRAWING_WORDS } from "../words/drawings";
import styles from "./drawing-editor.module.css";
import { UncertaintyNotice } from "./uncertainty-notice";

const texts = DRAWING_WORDS.editor;

const MATERIALS: readonly Material[] = [ALUMINIUM, COMPOSITE, TITANIUM];
const DIMENSIONS = [
  ["nominalBoreMm", texts.boreNominal],
  ["widthMm", texts.shellWidth],
  ["seatDepthMm", texts.seatDepth],
  ["shellOutsideDiameterMm", texts.shellOutsideDiameter],
  ["faceOutsideDiameterMm", texts.faceOutsideDiameter],
  ["faceSweepDiameterMm", texts.faceIndicatorRunsOnDiameter],
  ["faceLimitDiameterMm", texts.faceLimitHoldsAtDiameter],
] as const;
const UNIT_SHOWN = { mm: "mm", µm: "µm", arcmin: "′" } as const;

type Mode = "new" | "revision" | "draft";

type Read =
  | { readonly drawing: ShellDrawing; readonly problems: ReadonlyMap<string, string> }
  | { readonly drawing: null; readonly problems: ReadonlyMap<string, string> };

function readEntry(entry: DrawingEntry): Read {
  const parsed = drawingEntrySchema.safeParse(entry);
  if (parsed.success) return { drawing: parsed.data, problems: new Map() };
  const problems = parsed.error.issues.map(({ path, message }) => [placeOf(path.join("."), entry), message] as const);
  return { drawing: null, problems: new Map(problems.toReversed()) };
}

/** A shell drawing while it is made or changed, with the shell drawn beside it as it stands. */
export function DrawingEditor({
  initial,
  mode,
  id,
  seen,
}: Readonly<{ initial: DrawingEntry; mode: Mode; id?: string; seen?: string }>) {
  const base = useId();
  const [entry, setEntry] = useState(initial);
  const { result, error, isReady, submits, forget } = useAction<unknown>();
  const [asked, setAsked] = useState(false);
  const read = readEntry(entry);
  const [good, setGood] = useState(read.drawing);
  const shown = read.drawing ?? good;
  const told = new Map([
    ...(asked ? read.problems : []),
    ...(error?.fields ?? []).map(({ path, message }) => [placeOf(path, entry), message] as const),
  ]);

  function change(next: DrawingEntry) {
    setEntry(next);
    forget();
    const fresh = readEntry(next).drawing;
    if (fresh) setGood(fresh);
  }
  const setText = (path: string, value: string) => change({ ...entry, texts: { ...entry.texts, [path]: value } });

  function handleSubmit(event: FormEvent<HTMLFormElement>) {
    setAsked(true);
    if (read.drawing !== null)
      return submits(() =>
        saveDrawingAction({
          mode,
          entry: { ...entry, texts: { ...entry.texts }, characteristics: [...entry.characteristics] },
          ...(id === undefined ? {} : { id }),
          ...(seen === undefined ? {} : { seen }),
        }),
      )(event);
    event.preventDefault();
    focusFirstWrong(event.currentTarget);
  }

  const field = (path: string, label: string, unit = "", options: { locked?: boolean; hidden?: boolean } = {}) => {
    const problem = told.get(path);
    const key = `${base}-${path}`;
    return (
      <Field
        key={path}
        id={key}
        label={label}
        labelHidden={options.hidden ?? false}
        problem={problem}
        {...(unit === "" ? {} : { unit })}
      >
        {(control) => (
          <input
            {...control}
            name={path}
            value={entry.texts[path] ?? ""}
            onChange={(event) => setText(path, event.target.value)}
            inputMode={unit === "" ? undefined : "decimal"}
            autoComplete="off"
            spellCheck={false}
            readOnly={options.locked}
          />
        )}
      </Field>
    );
  };
  const material = (label: string, value: Material, choose: (next: Material) => void) => {
    const known = MATERIALS.some(({ name }) => name === value.name) ? MATERIALS : [value, ...MATERIALS];
    return (
      <Field id={`${base}-${label}`} label={label}>
        {(control) => (
          <select
            {...control}
            value={value.name}
            onChange={(event) => choose(known.find(({ name }) => name === event.target.value) ?? value)}
          >
            {known.map(({ name }) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        )}
      </Field>
    );
  };
  const toggle = (name: CharacteristicName) => {
    const has = entry.characteristics.some((one) => one.name === name);
    const list = CHARACTERISTIC_NAMES.flatMap((candidate) => {
      const there = entry.characteristics.find((one) => one.name === candidate);
      if (candidate !== name) return there ? [there] : [];
      return has ? [] : [{ name, critical: false }];
    });
    change({ ...entry, characteristics: list });
  };
  const warnings =
    read.drawing === null ? [] : uncertaintyWarnings(read.drawing, fullPlan(read.drawing)).map(planWarningText);

  return (
    <form onSubmit={handleSubmit} className={styles.editor} noValidate>
      <div className={styles.entries}>
        <SectionHeading>{texts.drawing}</SectionHeading>
        <div className={styles.fields}>
          {field("key", "key", "", { locked: mode !== "new" })}
          {field("title", "title")}
          {field("revision", "revision")}
        </div>
        <Tick
          control={
            <input
              type="checkbox"
              checked={entry.invented}
              onChange={(event) => change({ ...entry, invented: event.target.checked })}
            />
          }
        >
          {texts.limitsAreProposal}
        </Tick>

        <SectionHeading>{texts.dimensions}</SectionHeading>
        <div className={styles.fields}>
          {DIMENSIONS.map(([path, label]) => field(path, label, "mm"))}
          {field("fullPlanDepthsMm", texts.measuredSectionsDepths, "mm")}
          {material(texts.shellMaterial, entry.shellMaterial, (next) => change({ ...entry, shellMaterial: next }))}
        </div>

        <SectionHeading aside={texts.uK2}>{texts.characteristics}</SectionHeading>
        <div className={styles.scroll} tabIndex={0} role="region" aria-label={texts.characteristics}>
          <table className={styles.table}>
            <thead>
              <tr>
                <th scope="col">{texts.limited}</th>
                <th scope="col">{texts.lower}</th>
                <th scope="col">{texts.upper}</th>
                <th scope="col">{texts.targetIfNotMiddle}</th>
                <th scope="col">{texts.u}</th>
                <th scope="col">{texts.critical}</th>
              </tr>
            </thead>
            <tbody>
              {CHARACTERISTIC_NAMES.map((name) => {
                const limited = entry.characteristics.find((one) => one.name === name);
                const unit = UNIT_SHOWN[CHARACTERISTIC_UNIT[name]];
                const sized = name === "bore" || name === "width";
                const cell = (limit: string, words: string) =>
                  field(`characteristics.${name}.${limit}`, `${name}, ${words}`, unit, { hidden: true });
                return (
                  <tr key={name}>
                    <th scope="row">
                      <Tick
                        control={
                          <input type="checkbox" checked={limited !== undefined} onChange={() => toggle(name)} />
                        }
                      >
                        {name}
                      </Tick>
                    </th>
                    {limited === undefined ? (
                      <td colSpan={5} className={styles.none}>
                        {texts.notLimitedOnDrawing}
                      </td>
                    ) : (
                      <>
                        <td>
                          {sized ? cell("lower", texts.lowerLimit) : <span className={styles.none}>{texts.none}</span>}
                        </td>
                        <td>{cell("upper", texts.upperLimit)}</td>
                        <td>{cell("target", "target")}</td>
                        <td>{cell("uncertainty", texts.uncertaintyU)}</td>
                        <td>
                          <Tick
                            control={
                              <input
                                type="checkbox"
                                checked={limited.critical}
                                aria-label={texts.isCritical(name)}
                                onChange={(event) =>
                                  change({
                                    ...entry,
                                    characteristics: entry.characteristics.map((one) =>
                                      one.name === name ? { name, critical: event.target.checked } : one,
                                    ),
                                  })
                                }
                              />
                            }
                          >
                            <span className={styles.onCard}>{texts.critical}</span>
                          </Tick>
                        </td>
                      </>
                    )}
                  </tr>
                );
              })}
            </tbody>
          </table>
        </div>
        {told.has("characteristics") ? <p className={styles.problem}>{told.get("characteristics")}</p> : null}
        <p className={styles.note}>{texts.zoneToCommonAxis}</p>
        <div className={styles.fields}>
          <Field id={`${base}-rule`} label={texts.decisionRule}>
            {(control) => (
              <select
                {...control}
                value={entry.decisionRule}
                onChange={(event) => change({ ...entry, decisionRule: event.target.value as DecisionRule })}
              >
                {Object.entries(DECISION_RULE_WORDS).map(([value, label]) => (
                  <option key={value} value={value}>
                    {label}
                  </option>
                ))}
              </select>
            )}
          </Field>
          {field("nonconformingFractionLimit", texts.sampledBatchMayHaveNonconforming, "%")}
        </div>

        <SectionHeading>{texts.whatCarries}</SectionHeading>
        <div className={styles.fields}>
          {field("carries.bearing.designation", "bearing")}
          {field("carries.bearing.boreMm", texts.bearingBore, "mm")}
          {field("carries.bearing.outsideDiameterMm", texts.bearingOutsideDiameter, "mm")}
          {field("carries.bearing.widthMm", texts.bearingWidth, "mm")}
          {field("carries.bearing.ballDiameterMm", texts.ballDiameter, "mm")}
          {field("carries.bearing.outsideDeviationUm.0", texts.outsideUpperDeviation, "µm")}
          {field("carries.bearing.outsideDeviationUm.1", texts.outsideLowerDeviation, "µm")}
          {field("carries.bearing.clearanceClass", texts.clearanceClass)}
          {field("carries.bearing.clearanceUm.0", texts.radialClearanceLeast, "µm")}
          {field("carries.bearing.clearanceUm.1", texts.radialClearanceMost, "µm")}
        </div>
        <Tick
          control={
            <input
              type="checkbox"
              checked={entry.cupMaterial !== null}
              onChange={(event) => change({ ...entry, cupMaterial: event.target.checked ? ALUMINIUM : null })}
            />
          }
        >
          {texts.cupStandsBetweenBearing}
        </Tick>
        {entry.cupMaterial === null ? null : (
          <div className={styles.fields}>
            {field("carries.cup.outsideDiameterMm", texts.cupOutsideDiameter, "mm")}
            {field("carries.cup.outsideDeviationUm.0", texts.cupUpperDeviation, "µm")}
            {field("carries.cup.outsideDeviationUm.1", texts.cupLowerDeviation, "µm")}
            {field("carries.cup.wallMm", texts.cupWall, "mm")}
            {material(texts.cupMaterial, entry.cupMaterial, (next) => change({ ...entry, cupMaterial: next }))}
          </div>
        )}
      </div>

      <div className={styles.side}>
        <div className={styles.stay}>
          {shown === null ? null : (
            <Sheet label={texts.shellAsEntered}>
              <ShellSheet
                drawing={shown}
                side="ds"
                arrangement="column"
                sections={(["ds", "nds"] as const).flatMap((seat) =>
                  shown.fullPlanDepthsMm.map((depthMm) => ({ seat, depthMm, taken: 0, planned: 0, meanMm: null })),
                )}
                asked={null}
                marks={[]}
              />
            </Sheet>
          )}
          <UncertaintyNotice warnings={warnings} />
          <ActionAnswer result={result} refused={texts.notSaved} unmarked={[]} />
          <p role="status" className={styles.note}>
            {asked && read.problems.size > 0
              ? texts.notRightYet(read.problems.size, read.problems.size === 1 ? texts.entryIs : texts.entriesAre)
              : read.drawing === null
                ? texts.drawingShowsLastEntriesFit
                : ""}
          </p>
          <Button type="submit" kind="go" wide disabled={!isReady}>
            {texts.submit[mode]}
          </Button>
        </div>
      </div>
    </form>
  );
}
