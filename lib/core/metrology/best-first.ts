/**
 * Branch and bound, most promising part first.
 *
 * @param roots - parts that hold every answer together
 * @param isPromising - whether a part can still hold a better answer than the best known one; asked again when its turn comes
 * @param divide - the smaller parts of one, [] where it is settled; notes better answers on its way
 */
export function searchBestFirst<Part extends { readonly bound: number }>(
  roots: readonly Part[],
  isPromising: (part: Part) => boolean,
  divide: (part: Part) => readonly Part[],
): void {
  const heap: Part[] = [];
  const push = (part: Part) => {
    let at = heap.push(part) - 1;
    while (at > 0) {
      const above = (at - 1) >> 1;
      if (heap[above]!.bound <= part.bound) break;
      heap[at] = heap[above]!;
      at = above;
    }
    heap[at] = part;
  };
  const pop = (): Part | undefined => {
    const first = heap[0];
    const last = heap.pop();
    if (last === undefined || heap.length === 0) return first;
    let at = 0;
    for (;;) {
      let below = 2 * at + 1;
      if (below >= heap.length) break;
      if (below + 1 < heap.length && heap[below + 1]!.bound < heap[below]!.bound) below += 1;
      if (heap[below]!.bound >= last.bound) break;
      heap[at] = heap[below]!;
      at = below;
    }
    heap[at] = last;
    return first;
  };
  for (const root of roots) push(root);
  for (let part = pop(); part !== undefined; part = pop()) {
    // Parts come in the order of their bounds: what follows promises no more.
    if (!isPromising(part)) return;
    for (const smaller of divide(part)) if (isPromising(smaller)) push(smaller);
  }
}
