import { gaussLegendreRule } from "./gauss-legendre";

/** Nodes of a quadrature rule, ascending, with their weights. */
export type QuadratureGrid = Readonly<{ at: Float64Array; weights: Float64Array }>;

/** Nodes of one panel: on a normal density six deviations wide they leave an error below 1e-13. */
export const PANEL_ORDER = 16;

/** Number of panels that a range takes where each is at most `width` wide. */
export function panelCount([low, high]: readonly [number, number], width: number): number {
  return Math.max(1, Math.ceil((high - low) / width));
}

/**
 * Gauss-Legendre panels of equal width over a range.
 *
 * @param range - [low, high], low < high
 * @param width - most that one panel spans, > 0
 * @returns 16 nodes a panel, ascending, and weights that add up to high - low
 */
export function panelGrid(range: readonly [number, number], width: number): QuadratureGrid {
  const [low, high] = range;
  const panels = panelCount(range, width);
  const { nodes, weights } = gaussLegendreRule(PANEL_ORDER);
  const half = (high - low) / panels / 2;
  const at = new Float64Array(panels * PANEL_ORDER);
  const scaled = new Float64Array(panels * PANEL_ORDER);
  for (let panel = 0; panel < panels; panel++) {
    for (let node = 0; node < PANEL_ORDER; node++) {
      at[panel * PANEL_ORDER + node] = low + half * (2 * panel + 1 + nodes[node]!);
      scaled[panel * PANEL_ORDER + node] = half * weights[node]!;
    }
  }
  return { at, weights: scaled };
}
