"use client";

import { memo, useCallback, useDeferredValue, useMemo, useState } from "react";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import type { ReadingName, Seat } from "@/lib/core/metrology/reading-name";
import { measurementDoubt } from "@/lib/format/measurement-doubts";
import { keyedValues, type KeyingSession } from "@/lib/offline/device/keying-session";
import type { PlanInHand } from "@/lib/offline/keying/keying-acts";
import type { LineDevice } from "@/lib/offline/line-device";
import { type LineState, serverTimeMs } from "@/lib/offline/device/line-state";
import { calibratedUntilText, gaugeDoubtText } from "@/lib/offline/device/station-gauges";
import { comparatorOf } from "@/lib/offline/device/zero-check";
import { ReadingTable } from "@/lib/ui/reading-table";
import { SegmentedChoice } from "@/lib/ui/segmented-choice";
import { ShellDrawing } from "@/lib/ui/shell-drawing";
import { TitleBlock } from "@/lib/ui/title-block";
import { DoubtList } from "../parts/doubt-list";
import { AskPanel } from "./ask-panel";
import { gridOf, type KeyingView, limitCell, marksOf, remarksOf, sectionsOf, uncertaintyText } from "./keying-view";
import { useNarrow } from "../parts/use-narrow";
import { GaugeDialog } from "../head/gauge-list";
import { LineHead } from "../head/line-head";
import { KEYING_WORDS } from "../../words/keying";
import parts from "../parts/screen.module.css";
import styles from "./keying.module.css";

const words = KEYING_WORDS.screen;

type KeyingScreenProps = Readonly<{
  device: LineDevice;
  state: LineState;
  session: KeyingSession;
  inHand: PlanInHand;
  inspector: string;
}>;

/** What do I measure next, and is it good? */
export function KeyingScreen({ device, state, session, inHand, inspector }: KeyingScreenProps) {
  const { settings } = state;
  const { drawing, names, measuring } = inHand.keying;
  const compiled = useMemo(() => compileMeasurement(names, drawing, measuring), [names, drawing, measuring]);
  const { readings } = session;
  const view = useMemo<KeyingView>(
    () => ({
      drawing,
      names,
      readings,
      asked: session.again?.readings[0] ?? session.question?.index ?? session.correction?.index ?? session.asked,
      side: settings.side,
      decimal: settings.decimal,
      compiled,
      measurement: measureFrame(compiled, keyedValues({ ...session, readings })),
    }),
    // The session changes with every key that counts; the drawing only follows these parts of it.
    [drawing, names, compiled, readings, session, settings.side, settings.decimal],
  );
  const jump = useCallback((key: string) => void device.key({ type: "jump", index: Number(key) }), [device]);
  const choose = useCallback((side: Seat) => void device.changeSettings({ side }), [device]);
  const asked = view.asked === null ? undefined : names[view.asked];
  const [gaugesShown, setGaugesShown] = useState(false);
  const showGauges = useCallback(() => setGaugesShown(true), []);
  const gauge = useMemo(
    () => gaugeInHand(state.kit, inHand.keying.gauges[asked?.kind ?? "bore"], settings.decimal, state.skew),
    [state.kit, inHand, asked, settings.decimal, state.skew],
  );
  // The answer to a key comes first; the drawing and the title block follow it.
  const drawn = useDeferredValue(view);
  const drawnAsked = drawn.asked === null ? null : (drawn.names[drawn.asked] ?? null);
  return (
    <main id="main" className={`${parts.screen} ${styles.keying}`}>
      <LineHead
        device={device}
        state={state}
        serial={session.serial}
        batch={session.batch}
        mark={
          session.firstOff === true
            ? "first-off, measured in full"
            : session.beforeRelease === undefined
              ? null
              : "before the release of the first-off"
        }
      />
      <div className={`${parts.work} ${styles.bench}`}>
        <Drawing view={drawn} onJump={jump} onSide={choose} />
        <AskPanel
          device={device}
          session={session}
          plan={inHand.keying}
          view={view}
          notice={state.notice}
          gauge={gauge}
          onGauges={showGauges}
        />
      </div>
      <KeyingBlock
        kit={state.kit}
        skew={state.skew}
        plan={inHand}
        decimal={settings.decimal}
        compiled={compiled}
        asked={drawnAsked}
        inspector={inspector}
        onGauges={showGauges}
      />
      {gaugesShown ? <GaugeDialog device={device} state={state} onClose={() => setGaugesShown(false)} /> : null}
    </main>
  );
}

/** The gauge that takes the asked reading, and what is against it. */
function gaugeInHand(
  kit: LineState["kit"],
  key: string | undefined,
  decimal: KeyingView["decimal"],
  skew: LineState["skew"],
) {
  const gauge = kit?.gauges.find((one) => one.key === key);
  if (gauge === undefined) return null;
  return {
    key: gauge.key,
    doubt: gaugeDoubtText(gauge, serverTimeMs({ skew }, Date.now()), { decimal, zone: kit?.zone }),
    hasRing: comparatorOf(gauge) !== null,
  };
}

/** "C41, bench 2"; a station that has its line in its name is not told twice. */
function stationText(kit: LineState["kit"]): string {
  const { line = "", name = "" } = kit?.station ?? {};
  return name.startsWith(line) ? name : `${line}, ${name}`;
}

type DrawingProps = Readonly<{
  view: KeyingView;
  onJump: (key: string) => void;
  onSide: (side: Seat) => void;
}>;

const Drawing = memo(function Drawing({ view, onJump, onSide }: DrawingProps) {
  const narrow = useNarrow();
  const asked = view.asked === null ? null : (view.names[view.asked] ?? null);
  const [lastKind, setLastKind] = useState(asked?.kind ?? "bore");
  if (asked !== null && asked.kind !== lastKind) setLastKind(asked.kind);
  const kind = asked?.kind ?? lastKind;
  const sections = useMemo(() => sectionsOf(view), [view]);
  const grid = gridOf(view, kind);
  const doubts = view.measurement.warnings.map((warning) =>
    measurementDoubt(warning, view.names, view.side, view.decimal),
  );
  return (
    <section className={parts.sheet} aria-label={words.drawingAndReadings}>
      <div className={styles.stand}>
        <SegmentedChoice
          name="stand"
          label={words.iStandAt}
          touch
          value={view.side}
          choices={[
            { value: "ds", label: words.ds },
            { value: "nds", label: words.nds },
          ]}
          onChange={onSide}
        />
      </div>
      <div className={parts.drawing}>
        <ShellDrawing
          arrangement={narrow ? "column" : "row"}
          drawing={view.drawing}
          side={view.side}
          sections={sections}
          asked={asked}
          marks={marksOf(view)}
          decimal={view.decimal}
          remarks={remarksOf(view)}
        />
      </div>
      <div className={styles.tableBox}>
        <ReadingTable {...grid} onJump={onJump} />
        <DoubtList doubts={doubts} />
      </div>
    </section>
  );
});

const KeyingBlock = memo(function KeyingBlock({
  kit,
  skew,
  plan,
  decimal,
  compiled,
  asked,
  inspector,
  onGauges,
}: Readonly<{
  kit: LineState["kit"];
  skew: LineState["skew"];
  plan: PlanInHand;
  decimal: KeyingView["decimal"];
  compiled: KeyingView["compiled"];
  asked: ReadingName | null;
  inspector: string;
  onGauges: () => void;
}>) {
  const { drawing } = plan.plan;
  const kind = asked?.kind ?? "bore";
  const gauge = kit?.gauges.find((one) => one.key === plan.keying.gauges[kind]);
  const seat = asked !== null && "seat" in asked ? asked.seat : null;
  return (
    <TitleBlock
      touch
      projection
      cells={[
        { label: words.drawing, value: words.rev(drawing.key, drawing.revision) },
        { label: words.plan, value: words.revRevision(plan.plan.title, plan.plan.revision) },
        limitCell(drawing, kind, decimal),
        {
          label: words.gaugeCalibratedUntil,
          value:
            gauge === undefined ? (
              words.noneEntered
            ) : (
              <button type="button" className={styles.cellKey} onClick={onGauges}>
                {gauge.key}, {calibratedUntilText(gauge, serverTimeMs({ skew }, Date.now()), kit) ?? words.none}
              </button>
            ),
        },
        { label: words.uncertaintyUK2, value: uncertaintyText({ compiled, decimal }, kind, seat) },
        { label: words.inspector, value: inspector },
        { label: words.lineStation, value: stationText(kit) },
      ]}
    />
  );
});
