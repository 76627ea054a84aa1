import "server-only";
import path from "node:path";

/** How a text looks: upright, strong, or with letters of one width for serials and codes. */
export type Face = "plain" | "strong" | "code";

type Package = { readonly name: string; readonly weight: number; readonly scripts: readonly string[] };

const PACKAGES: Readonly<Record<Face, Package>> = {
  plain: { name: "sofia-sans", weight: 400, scripts: ["latin", "latin-ext", "greek", "cyrillic"] },
  strong: { name: "sofia-sans", weight: 700, scripts: ["latin", "latin-ext", "greek", "cyrillic"] },
  code: { name: "sometype-mono", weight: 400, scripts: ["latin", "latin-ext"] },
};

/** Files of a face, in the order in which they are asked for a letter. */
export function filesOf(face: Face): readonly string[] {
  const { name, weight, scripts } = PACKAGES[face];
  return scripts.map((script) =>
    path.join(
      /* turbopackIgnore: true */ process.cwd(),
      "node_modules/@fontsource",
      name,
      "files",
      `${name}-${script}-${weight}-normal.woff`,
    ),
  );
}
