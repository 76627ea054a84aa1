import Link from "next/link";
import { sampleMean } from "@/lib/core/numerics/descriptive-statistics";
import { answerWords, caseSentence, causeName, costWords, sizeWords } from "@/lib/format/case-words";
import { formatOclock } from "@/lib/format/clock-text";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatMm } from "@/lib/format/number-text";
import { streamName } from "@/lib/format/stream-words";
import type { CauseCode } from "@/lib/quality/cases/case";
import { casePlaces, caseSeries, chartedFeatures, type CaseSeries } from "@/lib/quality/cases/case-series";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { readCaseFrames, type CaseFrames } from "@/lib/server/cases/case-frames";
import type { CaseListItem } from "@/lib/server/cases/queries";
import { keepWhole } from "@/lib/ui/keep-whole";
import { StateMark } from "@/lib/ui/state-mark";
import { CASE_WORDS } from "../cases/words";
import { CaseStrip } from "./case-strip";
import { OffsetTarget } from "./offset-target";
import styles from "../overview.module.css";

const words = CASE_WORDS.open;

/** Frames of the small picture. */
const SHOWN = { before: 60, after: 140 } as const;
const MOST_ROWS = 3;

function nameOf(feature: CaseSeries["feature"], towards: number | null): string {
  return feature === "offset" && towards !== null
    ? words.offsetTo(formatOclock(towards * 30))
    : streamName(feature as "coaxiality");
}

function changeOf(found: FoundCase, feature: CaseSeries["feature"]): string {
  if (feature === "offset") return formatMm(found.change.value / 1000);
  const member = found.members.find((one) => one.feature === feature);
  return member === undefined ? "" : sizeWords(member.change);
}

function Picture({ found, frames, zone }: Readonly<{ found: FoundCase; frames: CaseFrames; zone: string }>) {
  const places = casePlaces(
    found,
    frames.frames.map(({ serial }) => serial),
  );
  if (places === null) return null;
  const { towards } = found;
  const offsets = frames.frames.map(({ offset }) => offset);
  const limit = frames.zoneUm === null ? null : frames.zoneUm / 2;
  const given = frames.streams.map(({ tolerance, ...one }) => ({
    ...one,
    lower: tolerance?.lower ?? null,
    upper: tolerance?.upper ?? null,
  }));
  const series = caseSeries(found, places, given, { values: offsets, limit }, MOST_ROWS);
  const before = offsets.slice(0, places.earliest).filter((one) => one !== null);
  const since = offsets.slice(places.since, places.until + 1).filter((one) => one !== null);
  const event = found.events[0];
  return (
    <div className={styles.picture}>
      {towards === null || since.length === 0 || frames.zoneUm === null ? null : (
        <OffsetTarget
          zoneUm={frames.zoneUm}
          before={before}
          since={since}
          mean={[sampleMean(since.map(([twelve]) => twelve)), sampleMean(since.map(([, three]) => three))]}
          alternative={words.targetAlternative(formatMm(found.change.value / 1000), formatOclock(towards * 30))}
        />
      )}
      <CaseStrip
        series={series}
        places={places}
        frames={frames.frames.length}
        labels={series.map(({ feature }) => {
          const [name, change] = [nameOf(feature, towards), changeOf(found, feature)];
          return { name, change, alternative: words.rowAlternative(name, change, found.since.serial) };
        })}
        foot={[
          words.between(found.since.earliest, found.since.latest),
          ...(event === undefined ? [] : [`${event.text}, ${formatMoment(event.at, { zone })}`]),
        ].join("; ")}
      />
    </div>
  );
}

/** One open case: what changed in a sentence and a picture, why, who has it and what it costs. */
export async function OpenCase({
  one,
  viewer,
  isDrawn,
  now,
}: Readonly<{ one: CaseListItem; viewer: PersonViewer; isDrawn: boolean; now: number }>) {
  const { id, found, lineName, line, operationName, owner, heldBatches, overAt, stands, times, cause } = one;
  const { plantZone: zone } = viewer;
  const features = chartedFeatures(found.members.map(({ feature }) => feature));
  const frames = isDrawn ? await readCaseFrames(viewer, id, features, SHOWN) : null;
  const age = formatDuration((now - Date.parse(one.sinceAt)) / 1000);
  const others = [
    ...new Set(found.members.filter(({ feature }) => feature !== found.lead).map(({ feature }) => feature)),
  ];
  const state = stands ? (overAt === null ? words.goesOn : words.over(formatMoment(overAt, { zone }))) : words.gone;
  return (
    <li className={styles.case}>
      <span className={styles.pennant}>
        <StateMark state="signal" size="fill" wordBeside />
      </span>
      <div>
        <h3>
          <Link href={`/drift/cases/${id}`}>{keepWhole(words.headline(line, caseSentence(found)))}</Link>
        </h3>
        <p>
          {keepWhole(
            words.about(
              lineName,
              operationName,
              formatMoment(one.sinceAt, { zone }),
              found.since.serial,
              others.length,
            ),
          )}
        </p>
        {frames === null ? null : <Picture found={found} frames={frames} zone={zone} />}
        <dl className={styles.facts}>
          <div>
            <dt>{cause === null ? words.probable : words.assigned}</dt>
            <dd>{keepWhole(cause === null ? answerWords(found.answer) : causeName(cause as CauseCode))}</dd>
          </div>
          <div>
            <dt>{words.owner}</dt>
            <dd>{keepWhole(words.ownerAge(owner, age))}</dd>
          </div>
          <div>
            <dt>{words.now}</dt>
            <dd>{keepWhole(times > 1 ? `${state}, ${CASE_WORDS.list.again(times)}` : state)}</dd>
          </div>
          <div>
            <dt>{words.cost}</dt>
            <dd>{keepWhole(costWords(found, heldBatches))}</dd>
          </div>
        </dl>
      </div>
    </li>
  );
}
