import { sweepReachUm } from "@/lib/charts/sweep-layout";
import { parseReadingName, type Seat } from "@/lib/core/metrology/reading-name";
import { formatSeat } from "@/lib/format/clock-text";
import { formatFixed } from "@/lib/format/number-text";
import { formatDepth } from "@/lib/format/reading-text";
import type { ToldFrameMeaning } from "@/lib/format/meaning-words";
import type { FrameRecord } from "@/lib/server/frames/queries";
import { ClockPlot } from "@/lib/ui/clock-plot";
import { SectionHeading } from "@/lib/ui/page-frame";
import { SweepPlot } from "@/lib/ui/sweep-plot";
import { FRAME_WORDS } from "../../words";
import styles from "../frame.module.css";

const words = FRAME_WORDS.form;

/** Readings of the newest valid inspection that belong to one swept section. */
function pointsOf(record: FrameRecord, seat: Seat, depthMm: number) {
  return (record.newest?.readings ?? []).flatMap(({ name: text, value }) => {
    const name = parseReadingName(text);
    if (!name.ok || name.value.kind !== "sweep" || value === null) return [];
    const { seat: swept, depthMm: depth, angleDeg } = name.value;
    return swept === seat && depth === depthMm ? [{ angleDeg, valueUm: value }] : [];
  });
}

function Sweeps({ record }: Readonly<{ record: FrameRecord }>) {
  return (record.measurement?.swept ?? []).flatMap((swept) =>
    swept.sections.map((section) => (
      <SweepPlot
        key={`${swept.swept} ${section.depthMm}`}
        title={words.seatDeep(formatSeat(swept.swept), formatDepth(section.depthMm))}
        side="ds"
        points={pointsOf(record, swept.swept, section.depthMm)}
        fit={
          section.fit === null
            ? null
            : {
                meanUm: section.fit.fit.mean,
                harmonics: section.fit.fit.harmonics.map(({ order, cos, sin }) => ({
                  order,
                  cosineUm: cos,
                  sineUm: sin,
                })),
              }
        }
        askedDeg={null}
        reachUm={sweepReachUm(record.drawing ?? { characteristics: [] }, "sweep")}
        finished
      />
    )),
  );
}

/** Where the largest bar that passes both seats touches each of them. */
function Contacts({ record, meaning }: Readonly<{ record: FrameRecord; meaning: ToldFrameMeaning }>) {
  const { result } = meaning.functionalSize;
  if (!result.ok || record.drawing === null) return null;
  const { drawing } = record;
  const { contacts, diameterMm } = result.value;
  return (["ds", "nds"] as const).map((seat) => {
    const own = contacts.filter((contact) => contact.seat === seat);
    return (
      <ClockPlot
        key={seat}
        drawing={drawing}
        side="ds"
        seat={seat}
        marks={own.map((contact) => ({ angleDeg: contact.clockDeg, span: "position", state: "read" }))}
        caption={words.seatContactOf(formatSeat(seat), formatFixed(diameterMm, 3))}
      />
    );
  });
}

/** The form of each swept section and the contact of the largest bar, by the clock as seen from the drive side. */
export function FormAndContact({ record, meaning }: Readonly<{ record: FrameRecord; meaning: ToldFrameMeaning }>) {
  const sections = record.measurement?.swept.reduce((sum, swept) => sum + swept.sections.length, 0) ?? 0;
  if (sections === 0) return null;
  return (
    <>
      <SectionHeading aside={words.seenFromDriveSide}>{words.formAndContactByClock}</SectionHeading>
      <div className={styles.clocks}>
        <Sweeps record={record} />
        <Contacts record={record} meaning={meaning} />
      </div>
    </>
  );
}
