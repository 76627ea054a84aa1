import type { ShellDrawing } from "../core/metrology/shell-drawing";

/** One value that differs between two revisions of a drawing; null where it is not there. */
export type DrawingChange = {
  /** Where it stands, as "characteristics.bore.upper" or "carries.cup.wallMm". */
  readonly path: string;
  readonly before: string | number | boolean | null;
  readonly after: string | number | boolean | null;
};

type Leaf = string | number | boolean | null;

function leaves(value: unknown, path: string, into: Map<string, Leaf>): void {
  if (Array.isArray(value)) {
    value.forEach((item: unknown, place) => {
      const named = typeof item === "object" && item !== null && "name" in item && path === "characteristics";
      leaves(item, `${path}.${named ? String(item.name) : place + 1}`, into);
    });
    return;
  }
  if (typeof value === "object" && value !== null) {
    for (const [key, inner] of Object.entries(value)) leaves(inner, path === "" ? key : `${path}.${key}`, into);
    return;
  }
  into.set(path, value as Leaf);
}

/**
 * What changed from one revision of a drawing to another, place by place, in the order of the drawing; the revision's own name
 * is no change. The order of the characteristics does not count.
 */
export function compareDrawings(before: ShellDrawing, after: ShellDrawing): readonly DrawingChange[] {
  const [old, fresh] = [new Map<string, Leaf>(), new Map<string, Leaf>()];
  leaves(before, "", old);
  leaves(after, "", fresh);
  return [...new Set([...old.keys(), ...fresh.keys()])]
    .filter((path) => path !== "revision")
    .map((path) => ({ path, before: old.get(path) ?? null, after: fresh.get(path) ?? null }))
    .filter((change) => change.before !== change.after);
}
