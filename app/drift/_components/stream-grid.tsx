import Link from "next/link";
import { featureNamed } from "@/lib/core/metrology/features";
import { formatSeat } from "@/lib/format/clock-text";
import { formatFixed } from "@/lib/format/number-text";
import { formatStreamValue, streamName } from "@/lib/format/stream-words";
import type { OffsetListItem, StreamListItem } from "@/lib/server/drift/list-streams";
import { StateMark } from "@/lib/ui/state-mark";
import { DRIFT_WORDS } from "../words";
import { SparkLine } from "./spark-line";
import styles from "../overview.module.css";

const words = DRIFT_WORDS.grid;

/** Groups beside each other: more would leave a cell no room. */
const GROUPS_BESIDE = 4;
/** Frames of the line in a cell. */
const CELL_FRAMES = 60;

type Place = Readonly<{ line: string; operation: string; drawing: string }>;
type Group = Place & Readonly<{ key: string; operationName: string }>;
export type CellState = Readonly<{ kind: "case"; number: number } | { kind: "watch" }>;

/** One line, operation and drawing. */
export const groupKey = ({ line, operation, drawing }: Place): string => `${line} ${operation} ${drawing}`;
/** A cell of the grid: a stream, or the offset of a group. */
export const cellKey = (place: Place, feature: string): string => `${groupKey(place)} ${feature}`;

const ROWS = [
  { key: "offset", label: words.rows.offset },
  { key: "tilt value", label: words.rows.tilt },
  { key: "bore mean", label: words.rows.bore },
  { key: "bore range", label: words.rows.spread },
  { key: "ovality value", label: words.rows.ovality },
  { key: "taper value", label: words.rows.taper },
  { key: "face run-out value", label: words.rows.face },
  { key: "width mean", label: words.rows.width },
] as const;

type Cell = Readonly<{
  key: string;
  row: string;
  group: string;
  seat: "ds" | "nds" | null;
  href: string;
  name: string;
  value: string;
  recent: readonly number[];
}>;

function streamCell(stream: StreamListItem): Cell {
  const { characteristic, statistic, seat } = featureNamed(stream.feature);
  const last = stream.recent.at(-1);
  return {
    key: cellKey(stream, stream.feature),
    row: `${characteristic} ${statistic}`,
    group: groupKey(stream),
    seat,
    href: `/drift/streams/${stream.id}`,
    name: streamName(stream.feature),
    value: last === undefined ? DRIFT_WORDS.noValue : formatStreamValue(last, stream.feature),
    recent: stream.recent,
  };
}

function offsetCell(offset: OffsetListItem): Cell {
  const recent = offset.recent.map(([twelve, three]) => Math.hypot(twelve, three));
  return {
    key: cellKey(offset, "offset"),
    row: "offset",
    group: groupKey(offset),
    seat: "nds",
    href: `/drift/target/${encodeURIComponent(offset.line)}?operation=${encodeURIComponent(offset.operation)}`,
    name: DRIFT_WORDS.offset,
    value: DRIFT_WORDS.offsetNow(
      formatFixed(recent.at(-1) ?? 0, 1),
      offset.zoneUm === null ? null : formatFixed(offset.zoneUm / 2, 1),
    ),
    recent,
  };
}

function GridCell({ cell, group, state }: Readonly<{ cell: Cell; group: Group; state: CellState | undefined }>) {
  const classes = [
    styles.cell,
    cell.seat === null ? styles.both : "",
    state?.kind === "case" ? styles.inCase : "",
    state?.kind === "watch" ? styles.onWatch : "",
  ];
  const says = state === undefined ? words.quiet : state.kind === "case" ? words.inCase(state.number) : words.onWatch;
  return (
    <Link
      className={classes.filter(Boolean).join(" ")}
      href={cell.href}
      aria-label={words.cell(group.line, group.operationName, cell.name, cell.value, says)}
      title={words.cell(group.line, group.operationName, cell.name, cell.value, says)}
    >
      {state?.kind === "case" ? (
        <span className={styles.cellFlag}>
          <StateMark state="signal" size="fill" wordBeside />
        </span>
      ) : null}
      <SparkLine values={cell.recent.slice(-CELL_FRAMES)} control={null} />
    </Link>
  );
}

function Block({
  groups,
  cells,
  states,
  areDrawingsNamed,
  columns,
}: Readonly<{
  groups: readonly Group[];
  /** Room for so many groups, so that cells of every block are as wide. */
  columns: number;
  cells: readonly Cell[];
  states: ReadonlyMap<string, CellState>;
  areDrawingsNamed: boolean;
}>) {
  const own = cells.filter(({ group }) => groups.some(({ key }) => key === group));
  return (
    <div className={styles.grid} style={{ "--groups": columns } as React.CSSProperties}>
      <span />
      {groups.map((group) => (
        <div key={group.key} className={styles.gridHead}>
          <b>{group.line}</b> <span>{words.operation(group.operationName)}</span>
          {areDrawingsNamed ? <span className="mono">{group.drawing}</span> : null}
        </div>
      ))}
      <span />
      {groups.map(({ key }) => (
        <div key={key} className={styles.gridSeats} aria-hidden="true">
          <span>{formatSeat("ds")}</span>
          <span>{formatSeat("nds")}</span>
        </div>
      ))}
      {ROWS.filter(({ key }) => own.some(({ row }) => row === key)).map((row) => (
        <div key={row.key} className={styles.gridRow}>
          <span className={styles.gridName}>{row.label}</span>
          {groups.map((group) => (
            <div key={group.key} className={styles.gridPair}>
              {([null, "ds", "nds"] as const).map((seat) => {
                const cell = own.find((one) => one.row === row.key && one.group === group.key && one.seat === seat);
                if (cell !== undefined)
                  return <GridCell key={cell.key} cell={cell} group={group} state={states.get(cell.key)} />;
                return seat === null || row.key === "width mean" ? null : <span key={seat} />;
              })}
            </div>
          ))}
        </div>
      ))}
    </div>
  );
}

/** All streams as one small grid: characteristics down, lines and seats across; nothing to read while they are quiet. */
export function StreamGrid({
  streams,
  offsets,
  states,
}: Readonly<{
  streams: readonly StreamListItem[];
  offsets: readonly OffsetListItem[];
  states: ReadonlyMap<string, CellState>;
}>) {
  const groups = [...new Map(streams.map((one) => [groupKey(one), { ...one, key: groupKey(one) }])).values()].toSorted(
    (a, b) => a.key.localeCompare(b.key),
  );
  const cells = [...offsets.map(offsetCell), ...streams.map(streamCell)];
  const areDrawingsNamed = new Set(groups.map(({ line, operation }) => `${line} ${operation}`)).size < groups.length;
  return (
    <>
      {groups.flatMap((_, at) =>
        at % GROUPS_BESIDE === 0
          ? [
              <Block
                key={at}
                groups={groups.slice(at, at + GROUPS_BESIDE)}
                cells={cells}
                states={states}
                areDrawingsNamed={areDrawingsNamed}
                columns={Math.min(Math.max(groups.length, 2), GROUPS_BESIDE)}
              />,
            ]
          : [],
      )}
    </>
  );
}
