import type { Metadata } from "next";
import Link from "next/link";
import { formatDepth } from "@/lib/format/reading-text";
import { SHELL_TEMPLATE_WORDS } from "@/lib/format/shell-template-words";
import { findShellTemplate, SHELL_TEMPLATES, withWidth } from "@/lib/quality/shell-templates";
import { Sheet } from "@/lib/ui/page-frame";
import { ShellDrawing as ShellSheet } from "@/lib/ui/shell-drawing";
import { requireViewer } from "../../../_components/work-page";
import { toDrawingEntry } from "../../_components/drawing-entry";
import { DrawingEditor } from "../../_components/drawing-editor";
import { SetupPage } from "../../_components/setup-page";
import { DRAWING_WORDS } from "../../words/drawings";
import styles from "./new-drawing.module.css";

const words = DRAWING_WORDS.begin;

export const metadata: Metadata = { title: words.newDrawing };

const TEMPLATES = SHELL_TEMPLATES.map((template) => ({ ...template, ...SHELL_TEMPLATE_WORDS[template.key] }));

function one(value: string | string[] | undefined): string {
  return typeof value === "string" ? value : "";
}

export default async function NewDrawingPage({ searchParams }: PageProps<"/setup/drawings/new">) {
  const viewer = await requireViewer("/setup/drawings/new", "setup.draft");
  const search = await searchParams;
  const template = findShellTemplate(one(search["template"]));
  if (template) {
    const asked = Number(one(search["width"]));
    const widthMm = template.widthsMm.includes(asked) ? asked : template.drawing.widthMm;
    const { title, source } = SHELL_TEMPLATE_WORDS[template.key];
    const drawing = { ...withWidth(template.drawing, widthMm), key: `${template.key}-${widthMm}`, invented: true };
    return (
      <SetupPage
        viewer={viewer}
        current="overview"
        title={words.newDrawingFrom(title)}
        lead={words.everyEntryCanBeChanged(source[0]?.toUpperCase(), source.slice(1))}
      >
        <DrawingEditor mode="new" initial={toDrawingEntry(drawing)} />
      </SetupPage>
    );
  }
  return (
    <SetupPage viewer={viewer} current="overview" title={words.whichShellIs} lead={words.lead}>
      <ul className={styles.templates}>
        {TEMPLATES.map(({ key, title, carries, widthsMm, axlesMm, drawing, source }) => (
          <li key={key}>
            <Sheet label={title}>
              <h2 className={styles.title}>{title}</h2>
              <p>{words.axleMm(carries, axlesMm.join(words.or))}</p>
              <ShellSheet drawing={drawing} side="ds" arrangement="row" sections={[]} asked={null} marks={[]} />
              <p className={styles.source}>{source}</p>
              <p className={styles.widths}>
                <span>{words.draftAtWidth}</span>
                {widthsMm.map((width) => (
                  <Link key={width} href={`/setup/drawings/new?template=${key}&width=${width}`}>
                    {formatDepth(width)}
                  </Link>
                ))}
              </p>
            </Sheet>
          </li>
        ))}
      </ul>
      <p className={styles.source}>{words.threadedShellsAreNotOffered}</p>
    </SetupPage>
  );
}
