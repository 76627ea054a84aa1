"use client";

import { useId } from "react";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatDirection, formatOclock, formatSeat } from "@/lib/format/clock-text";
import { SEATS, unreadBars, unreadNumbers, type PlanChoices } from "./plan-choices";
import { PlanField } from "./plan-field";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const words = PLAN_WORDS.readings;

const DIRECTIONS = Array.from({ length: 12 }, (_, step) => step * 15);
const EIGHTHS = Array.from({ length: 8 }, (_, step) => step * 45);
const ROUND = [...new Set([...EIGHTHS, ...Array.from({ length: 12 }, (_, step) => step * 30)])].sort((a, b) => a - b);
const CLOSED = [...ROUND, 360];

const around = (angleDeg: number) => (angleDeg === 360 ? words.twelveAgainClosing : formatOclock(angleDeg));

type TicksProps = Readonly<{
  legend: string;
  values: readonly number[];
  chosen: readonly number[];
  label: (value: number) => string;
  onChange: (chosen: readonly number[]) => void;
}>;

/** A set of places round the clock, each to be ticked. */
function Ticks({ legend, values, chosen, label, onChange }: TicksProps) {
  const all = [...new Set([...values, ...chosen])].sort((a, b) => a - b);
  const turned = (value: number) =>
    chosen.includes(value) ? chosen.filter((one) => one !== value) : [...chosen, value].sort((a, b) => a - b);
  return (
    <fieldset className={styles.ticks}>
      <legend>{legend}</legend>
      {all.map((value) => (
        <label key={value}>
          <input type="checkbox" checked={chosen.includes(value)} onChange={() => onChange(turned(value))} />
          {label(value)}
        </label>
      ))}
    </fieldset>
  );
}

type ReadingChoicesProps = Readonly<{
  drawing: ShellDrawing;
  choices: PlanChoices;
  onChange: (choices: PlanChoices) => void;
}>;

function SeatChoices({ seat, drawing, choices, onChange }: ReadingChoicesProps & Readonly<{ seat: Seat }>) {
  const id = useId();
  const set = <Kind extends "bore" | "sweep">(kind: Kind, part: Partial<PlanChoices[Kind][Seat]>) =>
    onChange({ ...choices, [kind]: { ...choices[kind], [seat]: { ...choices[kind][seat], ...part } } });
  const depths = (kind: "bore" | "sweep") => (
    <PlanField
      id={`${id}-${kind}`}
      label={words.depthsFromFaceMm}
      value={choices[kind][seat].depths}
      problem={unreadNumbers(choices[kind][seat].depths)}
      placeholder={drawing.fullPlanDepthsMm.join("; ")}
      onChange={(text) => set(kind, { depths: text })}
    />
  );
  return (
    <details open={seat === "ds"} className={styles.group}>
      <summary>{words.seatAndFace(formatSeat(seat))}</summary>
      <h3>{words.diameters}</h3>
      {depths("bore")}
      <Ticks
        legend={words.directionsSeenFromDriveSide}
        values={DIRECTIONS}
        chosen={choices.bore[seat].directions}
        label={(value) => formatDirection(value)}
        onChange={(directions) => set("bore", { directions })}
      />
      <h3>{words.sweepAboutOtherSeatsAxis}</h3>
      {depths("sweep")}
      <Ticks
        legend={words.positions}
        values={CLOSED}
        chosen={choices.sweep[seat].angles}
        label={around}
        onChange={(angles) => set("sweep", { angles })}
      />
      <h3>{words.face}</h3>
      <Ticks
        legend={words.positions}
        values={CLOSED}
        chosen={choices.face[seat]}
        label={around}
        onChange={(angles) => onChange({ ...choices, face: { ...choices.face, [seat]: angles } })}
      />
    </details>
  );
}

/** What a plan reads: depths and places of each kind, ticked. */
export function ReadingChoices({ drawing, choices, onChange }: ReadingChoicesProps) {
  const id = useId();
  return (
    <>
      {SEATS.map((seat) => (
        <SeatChoices key={seat} seat={seat} drawing={drawing} choices={choices} onChange={onChange} />
      ))}
      <details className={styles.group}>
        <summary>{words.widthPlugsAndBar}</summary>
        <Ticks
          legend={words.widthsAt}
          values={EIGHTHS}
          chosen={choices.width}
          label={(value) => formatOclock(value)}
          onChange={(width) => onChange({ ...choices, width })}
        />
        <div className={styles.fields}>
          <PlanField
            id={`${id}-plugs`}
            label={words.plugSizesForBothSeats}
            value={choices.plugs}
            problem={unreadNumbers(choices.plugs)}
            placeholder="40.947; 40.955"
            onChange={(plugs) => onChange({ ...choices, plugs })}
          />
          <PlanField
            id={`${id}-rods`}
            label={words.rodsTriedAcrossBothSeats}
            value={choices.rods}
            problem={unreadNumbers(choices.rods)}
            placeholder="40.997; 41.005"
            onChange={(rods) => onChange({ ...choices, rods })}
          />
          <PlanField
            id={`${id}-bars`}
            label={words.gaugeBarSets}
            value={choices.bars}
            problem={unreadBars(choices.bars)}
            placeholder={words.setExample}
            onChange={(bars) => onChange({ ...choices, bars })}
          />
        </div>
      </details>
    </>
  );
}
