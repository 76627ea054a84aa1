"use client";

import {
  BarController,
  BarElement,
  Chart,
  LinearScale,
  LineController,
  LineElement,
  PointElement,
  Tooltip,
} from "chart.js";
import { useEffect, useId, useRef, useState } from "react";
import { toChartConfig, type ChartPalette } from "@/lib/charts/chart-config";
import { drawChartPicture, PAPER_PALETTE } from "@/lib/charts/chart-picture";
import { chartTable, type ChartSpec } from "@/lib/charts/chart-spec";
import { SvgCanvas } from "@/lib/charts/svg-canvas";
import { csvTable } from "@/lib/schemas/csv-row";
import { formatMoment } from "@/lib/format/date-text";
import { formatFixed, type DecimalSign } from "@/lib/format/number-text";
import { UI_WORDS } from "./words";
import styles from "./chart-canvas.module.css";
import { drawingPlugin, type ChartScene } from "./chart-drawing";

const words = UI_WORDS.chartCanvas;

Chart.register(LineController, BarController, LineElement, BarElement, PointElement, LinearScale, Tooltip);

const COLOURS = [
  "ink",
  "ink-2",
  "ink-3",
  "muted",
  "blue",
  "signal",
  "signal-text",
  "no",
  "maybe",
  "maybe-wash",
  "ok",
  "sheet",
  "hair",
  "hair-2",
] as const;

/** Rows shown in the table of numbers; the CSV has them all. */
const MOST_ROWS = 500;

/** Reads the theme's colours as they are now; `light-dark()` is resolved by asking an element that is in the page. */
function readPalette(probe: HTMLElement): ChartPalette {
  const colours = Object.fromEntries(
    COLOURS.map((name) => {
      probe.style.color = `var(--${name})`;
      return [name, getComputedStyle(probe).color];
    }),
  ) as Record<(typeof COLOURS)[number], string>;
  const root = getComputedStyle(document.documentElement);
  return {
    ...colours,
    fontFamily: root.getPropertyValue("--narrow") || "sans-serif",
    monoFamily: root.getPropertyValue("--mono") || "monospace",
  };
}

function save(blob: Blob, name: string): void {
  const address = URL.createObjectURL(blob);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/** Pixels of a saved picture for each of the screen's. */
const PICTURE_SCALE = 2;
const HEAD_AND_FOOT = 76;

type ChartCanvasProps = Readonly<{
  spec: ChartSpec;
  /** What is drawn, with its unit: "Mean diameter of the NDS seat, mm". */
  title: string;
  /** What is found, in a few words after the title. */
  finding?: string;
  /** The finding in one or two sentences, for those who do not see the chart. */
  alternative: string;
  size?: "small" | "medium" | "large";
  /** Name of saved files, without ending. */
  fileName: string;
  /** Whether the reader may take the numbers along: records.export. */
  mayExport: boolean;
  /** Where the full data are as CSV; without it the numbers of the chart are saved. */
  csvHref?: string;
  decimal?: DecimalSign;
  tools?: boolean;
}>;

export function ChartCanvas({
  spec,
  title,
  finding = "",
  alternative,
  size = "large",
  fileName,
  mayExport,
  csvHref,
  decimal = ".",
  tools = true,
}: ChartCanvasProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const probe = useRef<HTMLSpanElement>(null);
  const chart = useRef<Chart | null>(null);
  const scene = useRef<ChartScene | null>(null);
  const redraw = useRef<() => void>(() => undefined);
  const [showNumbers, setShowNumbers] = useState(false);
  const numbersId = useId();

  useEffect(() => {
    const element = canvas.current;
    const colourProbe = probe.current;
    if (!element || !colourProbe) return;
    const current = { spec, palette: readPalette(colourProbe) };
    if (scene.current) Object.assign(scene.current, current);
    else scene.current = current;
    redraw.current = () => {
      if (!chart.current || !scene.current) return;
      scene.current.palette = readPalette(colourProbe);
      const config = toChartConfig(spec, scene.current.palette, chart.current.width, decimal);
      chart.current.data.datasets = config.data.datasets;
      chart.current.options = { ...config.options, onResize: () => queueMicrotask(() => redraw.current()) };
      chart.current.update("none");
    };
    if (!chart.current) {
      const config = toChartConfig(spec, current.palette, element.clientWidth, decimal);
      chart.current = new Chart(element, { ...config, plugins: [drawingPlugin(scene.current)] });
    }
    redraw.current();
  }, [spec, decimal]);

  useEffect(() => {
    const handleChange = () => redraw.current();
    const scheme = matchMedia("(prefers-color-scheme: dark)");
    const theme = new MutationObserver(handleChange);
    theme.observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    scheme.addEventListener("change", handleChange);
    document.fonts.addEventListener("loadingdone", handleChange);
    return () => {
      theme.disconnect();
      scheme.removeEventListener("change", handleChange);
      document.fonts.removeEventListener("loadingdone", handleChange);
      chart.current?.destroy();
      chart.current = null;
      scene.current = null;
    };
  }, []);

  /** The chart with title and stamp, in the colours of paper; null before it is drawn. */
  function picture() {
    if (!canvas.current || !scene.current) return null;
    const { fontFamily, monoFamily } = scene.current.palette;
    const stamp = words.stamp(document.title, location.href, formatMoment(new Date(), { zone: "UTC" }));
    return {
      drawn: { spec, title, finding, stamp },
      size: { width: canvas.current.clientWidth, height: canvas.current.clientHeight + HEAD_AND_FOOT },
      palette: { ...PAPER_PALETTE, fontFamily, monoFamily },
    };
  }

  function handlePng() {
    const made = picture();
    const surface = document.createElement("canvas");
    const ctx = surface.getContext("2d");
    if (made === null || ctx === null) return;
    surface.width = made.size.width * PICTURE_SCALE;
    surface.height = made.size.height * PICTURE_SCALE;
    ctx.scale(PICTURE_SCALE, PICTURE_SCALE);
    drawChartPicture(ctx, made.drawn, made.size, made.palette);
    surface.toBlob((blob) => {
      if (blob) save(blob, `${fileName}.png`);
    });
  }

  function handleSvg() {
    const made = picture();
    if (made === null) return;
    const surface = new SvgCanvas();
    drawChartPicture(surface, made.drawn, made.size, made.palette);
    save(new Blob([surface.toSvg(made.size, title)], { type: "image/svg+xml" }), `${fileName}.svg`);
  }

  function handleCsv() {
    const { columns, rows } = chartTable(spec);
    save(new Blob([csvTable(columns, rows)], { type: "text/csv" }), `${fileName}.csv`);
  }

  return (
    <figure className={styles.figure}>
      <figcaption className={styles.caption}>
        <b>{title}</b>
        {finding ? <span>{finding}</span> : null}
      </figcaption>
      <div className={`${styles.canvas} ${styles[size]}`}>
        <canvas ref={canvas} role="img" aria-label={`${title}. ${alternative}`}>
          {alternative}
        </canvas>
        <span ref={probe} className={styles.probe} aria-hidden="true" />
      </div>
      {tools ? (
        <div className={styles.tools}>
          <button
            type="button"
            aria-expanded={showNumbers}
            aria-controls={numbersId}
            onClick={() => setShowNumbers(!showNumbers)}
          >
            {showNumbers ? words.hideNumbers : words.numbers}
          </button>
          <button type="button" onClick={handlePng}>
            {words.png}
          </button>
          <button type="button" onClick={handleSvg}>
            {words.svg}
          </button>
          {!mayExport ? null : csvHref ? (
            <a href={csvHref} download>
              {words.csv}
            </a>
          ) : (
            <button type="button" onClick={handleCsv}>
              {words.csv}
            </button>
          )}
        </div>
      ) : null}
      <div id={numbersId} hidden={!showNumbers}>
        {showNumbers ? <Numbers spec={spec} caption={title} decimal={decimal} /> : null}
      </div>
    </figure>
  );
}

function Numbers({ spec, caption, decimal }: Readonly<{ spec: ChartSpec; caption: string; decimal: DecimalSign }>) {
  const table = chartTable(spec);
  const rows = table.rows.slice(-MOST_ROWS);
  const show = (value: string | number) =>
    typeof value === "string"
      ? value
      : Number.isInteger(value)
        ? String(value)
        : formatFixed(value, spec.yDecimals, decimal);
  return (
    <div className={styles.numbers} tabIndex={0} role="region" aria-label={words.numbersOf(caption)}>
      <table>
        <caption className="visuallyHidden">{words.lastOf(caption, rows.length, table.rows.length)}</caption>
        <thead>
          <tr>
            {table.columns.map((column) => (
              <th key={column} scope="col">
                {column}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, index) => (
            <tr key={index}>
              {row.map((value, column) => (
                <td key={column}>{show(value)}</td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
