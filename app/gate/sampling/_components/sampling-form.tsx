"use client";

import { useId, useState } from "react";
import { INSPECTION_LEVELS, PREFERRED_AQLS } from "@/lib/core/sampling/attribute-tables";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import { VARIABLES_AQLS } from "@/lib/core/sampling/variables-plan";
import { lotPlan, type LotScheme } from "@/lib/quality/lot-plan";
import { type LotSchemeInput, lotSchemeSchema } from "@/lib/schemas/sampling-scheme";
import { readTypedNumber } from "@/lib/schemas/typed-number";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { useAction } from "@/lib/ui/use-action";
import { PlanStrength } from "../../_components/plan-strength";
import { setSamplingAction } from "../../actions";
import { SAMPLING_WORDS } from "../../sampling-words";
import styles from "../sampling.module.css";

const words = SAMPLING_WORDS.form;

const KINDS = ["all", "iso-2859-1", "iso-3951-1", "zero-acceptance"] as const;
const METHODS = ["s", "sigma"] as const;

type Typed = Readonly<{
  kind: LotScheme["kind"];
  level: string;
  aql: string;
  method: (typeof METHODS)[number];
  reducedWanted: boolean;
  sigmaBore: string;
  sigmaWidth: string;
  index: string;
  risk: string;
}>;

type SamplingFormProps = Readonly<{
  supplier: string;
  model: string;
  version: number;
  scheme: LotScheme | null;
  standing: SwitchingState | null;
  lot: number;
  maySet: boolean;
}>;

function typedOf(scheme: LotScheme | null): Typed {
  const known = scheme?.kind === "iso-3951-1" ? scheme.sigmaMm : {};
  const micrometres = (mm: number | undefined) => (mm === undefined ? "" : String(Math.round(mm * 1e6) / 1000));
  return {
    kind: scheme?.kind ?? "all",
    level: scheme !== null && "level" in scheme ? scheme.level : "II",
    aql: scheme !== null && "aql" in scheme ? String(scheme.aql) : "1",
    method: scheme?.kind === "iso-3951-1" ? scheme.method : "s",
    reducedWanted: scheme !== null && "reducedWanted" in scheme && scheme.reducedWanted,
    sigmaBore: micrometres(known.bore),
    sigmaWidth: micrometres(known.width),
    index: scheme?.kind === "zero-acceptance" ? String(scheme.index) : "10",
    risk: scheme?.kind === "zero-acceptance" ? String(Math.round(scheme.risk * 1e4) / 100) : "10",
  };
}

/** What was typed as a scheme; the server reads it again. */
function inputOf(typed: Typed): LotSchemeInput {
  const number = (text: string) => readTypedNumber(text) ?? Number.NaN;
  const sigma = (text: string) => (text.trim() === "" ? undefined : number(text) / 1000);
  const level = INSPECTION_LEVELS.find((one) => one === typed.level) ?? "II";
  const shared = { level, aql: number(typed.aql), reducedWanted: typed.reducedWanted };
  switch (typed.kind) {
    case "all":
      return { kind: "all" };
    case "iso-2859-1":
      return { kind: "iso-2859-1", ...shared };
    case "iso-3951-1": {
      const [bore, width] = [sigma(typed.sigmaBore), sigma(typed.sigmaWidth)];
      const known =
        typed.method === "s"
          ? {}
          : { ...(bore === undefined ? {} : { bore }), ...(width === undefined ? {} : { width }) };
      return { kind: "iso-3951-1", ...shared, method: typed.method, sigmaMm: known };
    }
    case "zero-acceptance":
      return { kind: "zero-acceptance", index: number(typed.index), risk: number(typed.risk) / 100 };
  }
}

/** Plan and strength of what is typed, for a batch of one size; what is wrong with it in words. */
function Preview({
  input,
  lot,
  standing,
}: Readonly<{ input: LotSchemeInput; lot: number; standing: SwitchingState | null }>) {
  const parsed = lotSchemeSchema.safeParse(input);
  if (!parsed.success)
    return (
      <ul className={styles.problems}>
        {parsed.error.issues.map(({ path, message }) => (
          <li key={`${path.join(".")} ${message}`}>{keepWhole(`${path.join(".")} ${message}`)}</li>
        ))}
      </ul>
    );
  const scheme = parsed.data as LotScheme;
  if (scheme.kind === "all") return <p className="soft">{words.everyFrame}</p>;
  if (lot < 2) return <p className="soft">{words.lotOfOne}</p>;
  const severity = "aql" in scheme ? (standing?.severity ?? "normal") : null;
  const plan = lotPlan(scheme, lot, null);
  return (
    <>
      {plan.n >= lot ? <p>{words.wholeLot}</p> : null}
      <PlanStrength scheme={scheme} lot={lot} severity={severity} />
    </>
  );
}

/** Sets the sampling of a supplier and model: what is typed shows at once what it finds and what it lets through. */
export function SamplingForm(props: SamplingFormProps) {
  const { supplier, model, version, scheme, standing, maySet } = props;
  const [typed, setTyped] = useState(typedOf(scheme));
  const [lot, setLot] = useState(String(props.lot));
  const id = useId();
  const { result, isReady, submits } = useAction<{ readonly version: number }>();
  const change = (part: Partial<Typed>) => setTyped({ ...typed, ...part });
  const size = readTypedNumber(lot);
  const input = inputOf(typed);
  const bySwitching = typed.kind === "iso-2859-1" || typed.kind === "iso-3951-1";
  const aqls = typed.kind === "iso-3951-1" ? VARIABLES_AQLS : PREFERRED_AQLS.filter((aql) => aql <= 10);
  const text = (name: "sigmaBore" | "sigmaWidth" | "index" | "risk", label: string, unit?: string) => (
    <Field id={`${id}-${name}`} label={label} {...(unit === undefined ? {} : { unit })}>
      {(control) => (
        <input
          {...control}
          inputMode="decimal"
          autoComplete="off"
          value={typed[name]}
          onChange={({ target }) => change({ [name]: target.value })}
        />
      )}
    </Field>
  );
  const choose = (
    name: "level" | "aql" | "method",
    label: string,
    options: readonly { readonly value: string; readonly label: string }[],
  ) => (
    <Field id={`${id}-${name}`} label={label}>
      {(control) => (
        <select {...control} value={typed[name]} onChange={({ target }) => change({ [name]: target.value })}>
          {options.map((option) => (
            <option key={option.value} value={option.value}>
              {option.label}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
  const plain = (values: readonly (string | number)[]) =>
    values.map((value) => ({ value: String(value), label: String(value) }));
  return (
    <form
      className={styles.form}
      onSubmit={submits((fields, key) =>
        setSamplingAction({ id: key, supplier, model, version, scheme: input, ...signatureOf(fields) }),
      )}
    >
      <h2>{words.heading}</h2>
      <Choices legend={words.kind}>
        {KINDS.map((kind) => (
          <Tick
            key={kind}
            control={<input type="radio" name="kind" checked={typed.kind === kind} onChange={() => change({ kind })} />}
          >
            {words.kinds[kind]}
          </Tick>
        ))}
      </Choices>
      <div className={styles.entries}>
        {bySwitching ? choose("level", words.level, plain(INSPECTION_LEVELS)) : null}
        {bySwitching ? choose("aql", words.aql, plain(aqls)) : null}
        {typed.kind === "iso-3951-1"
          ? choose(
              "method",
              words.method,
              METHODS.map((value) => ({ value, label: words.methods[value] })),
            )
          : null}
        {typed.kind === "iso-3951-1" && typed.method === "sigma" ? text("sigmaBore", words.sigmaBore, "µm") : null}
        {typed.kind === "iso-3951-1" && typed.method === "sigma" ? text("sigmaWidth", words.sigmaWidth, "µm") : null}
        {typed.kind === "zero-acceptance" ? text("index", words.index) : null}
        {typed.kind === "zero-acceptance" ? text("risk", words.risk) : null}
        {typed.kind === "all" ? null : (
          <Field id={`${id}-lot`} label={words.lot} hint={words.lotHint}>
            {(control) => (
              <input {...control} inputMode="numeric" value={lot} onChange={({ target }) => setLot(target.value)} />
            )}
          </Field>
        )}
      </div>
      {bySwitching ? (
        <Choices legend={words.reducedWanted} legendHidden>
          <Tick
            control={
              <input
                type="checkbox"
                checked={typed.reducedWanted}
                onChange={({ target }) => change({ reducedWanted: target.checked })}
              />
            }
          >
            {words.reducedWanted}
          </Tick>
        </Choices>
      ) : null}
      {typed.kind === "iso-3951-1" ? <p className="soft">{words.sizesOnly}</p> : null}
      {size === null || !Number.isInteger(size) || size < 1 ? (
        <p className="soft">{words.notYet}</p>
      ) : (
        <Preview input={input} lot={size} standing={standing} />
      )}
      {maySet ? (
        <>
          <div className={styles.signature}>
            <SignatureFields />
            <Button type="submit" kind="go" disabled={!isReady || !lotSchemeSchema.safeParse(input).success}>
              {words.sign}
            </Button>
          </div>
          <ActionAnswer result={result} refused={words.notSet}>
            {words.set}
          </ActionAnswer>
        </>
      ) : (
        <p className="soft">{SAMPLING_WORDS.one.mayNot}</p>
      )}
    </form>
  );
}
