import type { Page } from "playwright-core";

/**
 * What a person would see as a broken layout, each with its first words: a page to be pushed sideways, text cut off, text that runs
 * out of its box or into another text, a date, number or serial over two lines, a table on a phone that is no list of cards.
 *
 * Hidden texts (for screen readers, closed details, behind an open dialog) are not looked at, nor what a person scrolls down to.
 */
export function layoutFaults(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const SLACK_PX = 1.5;
    /** Two texts touch when their boxes share more than this; line boxes of one text block overlap by a little. */
    const TOUCH_PX = 3;
    const PHONE_PX = 600;
    /** Days with or without their time, numbers with their unit, serials and keys with digits. */
    const ATOM = new RegExp(
      [
        String.raw`\d{4}-\d{2}-\d{2}(?:[ \u00a0]\d{2}:\d{2}(?::\d{2})?(?:[ \u00a0](?:[A-Z]{2,5}|GMT[+-]\d+))?)?`,
        String.raw`[A-Z][A-Z0-9]*-[A-Z0-9]*\d[A-Z0-9-]*`,
        String.raw`[±+\u2212-]?\d[\d.,\u202f]*(?:[ \u00a0](?:mm|µm|%|ppm|min|h|s|K|°C)(?![a-z])|[′°])?`,
      ]
        .map((form) => `(?<![A-Za-z0-9])(?:${form})`)
        .join("|"),
      "g",
    );
    const faults: string[] = [];
    const say = (kind: string, text: string, more = ""): void => {
      faults.push(`${kind}: “${text.replace(/\s+/g, " ").trim().slice(0, 60)}”${more}`);
    };
    const root = document.querySelector("dialog[open]") ?? document.body;

    const sideways = document.documentElement.scrollWidth - document.documentElement.clientWidth;
    if (sideways > 0) faults.push(`page ${sideways} px too wide`);

    const isHidden = (element: Element): boolean =>
      !element.checkVisibility({ visibilityProperty: true, opacityProperty: true }) ||
      element.closest("option, script, style, noscript, nextjs-portal, .visuallyHidden, .skipLink") !== null;

    const pen = document.createElement("canvas").getContext("2d");
    for (const field of root.querySelectorAll<HTMLInputElement>("input[placeholder]")) {
      if (pen === null || field.value !== "" || isHidden(field)) continue;
      const style = getComputedStyle(field);
      pen.font = style.font;
      const room = field.clientWidth - Number.parseFloat(style.paddingLeft) - Number.parseFloat(style.paddingRight);
      const wide = pen.measureText(field.placeholder).width - room;
      if (wide > SLACK_PX) say(`placeholder cut by ${Math.round(wide)} px`, field.placeholder);
    }

    for (const element of root.querySelectorAll<HTMLElement>("*")) {
      if (element instanceof SVGElement || element.clientWidth === 0 || isHidden(element)) continue;
      const style = getComputedStyle(element);
      const wide = element.scrollWidth - element.clientWidth;
      const high = element.scrollHeight - element.clientHeight;
      // What is typed into a field scrolls in it.
      const isTyped = element instanceof HTMLInputElement && element.type === "search";
      if (wide > SLACK_PX && style.overflowX !== "visible" && !isTyped)
        say(`cut by ${wide} px`, element.getAttribute("aria-label") ?? element.innerText, ` in ${element.tagName}`);
      if (high > SLACK_PX && (style.overflowY === "hidden" || style.overflowY === "clip"))
        say(`cut by ${high} px below`, element.innerText, ` in ${element.tagName}`);
      if (element.tagName === "TABLE" && innerWidth <= PHONE_PX) {
        const row = element.querySelector("tbody tr");
        if (row !== null && getComputedStyle(row).display !== "grid")
          say("no cards", (element as HTMLTableElement).caption?.innerText ?? element.innerText);
      }
    }

    type Piece = {
      text: string;
      element: Element;
      block: Element;
      left: number;
      right: number;
      top: number;
      bottom: number;
    };
    const pieces: Piece[] = [];
    /** What of an element its scrolling ancestors show, up and down. */
    const shownPart = (element: Element): { top: number; bottom: number } => {
      let [top, bottom] = [-Infinity, Infinity];
      for (let at = element.parentElement; at !== null && at !== document.documentElement; at = at.parentElement) {
        if (getComputedStyle(at).overflowY === "visible") continue;
        const box = at.getBoundingClientRect();
        [top, bottom] = [Math.max(top, box.top), Math.min(bottom, box.bottom)];
      }
      return { top, bottom };
    };
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    const range = document.createRange();
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const text = node.nodeValue ?? "";
      const element = node.parentElement;
      if (element === null || text.trim() === "" || isHidden(element)) continue;
      range.selectNodeContents(node);
      const rects = [...range.getClientRects()].filter(({ width, height }) => width > 0 && height > 0);
      if (rects.length === 0) continue;
      let block: Element = element;
      while (block.parentElement !== null && /^(inline|contents)$/.test(getComputedStyle(block).display))
        block = block.parentElement;
      const seen = shownPart(element);
      for (const rect of rects)
        if (rect.bottom > seen.top && rect.top < seen.bottom)
          pieces.push({ text, element, block, left: rect.left, right: rect.right, top: rect.top, bottom: rect.bottom });
      const inDrawing = element.closest("svg") !== null;
      if (!inDrawing && rects.length > 1)
        for (const found of text.matchAll(ATOM)) {
          if (found[0].length < 2) continue;
          range.setStart(node, found.index);
          range.setEnd(node, found.index + found[0].length);
          const tops = [...range.getClientRects()].filter(({ width }) => width > 0).map(({ top }) => Math.round(top));
          if (Math.max(...tops) - Math.min(...tops) > 4) say("wrapped", found[0], ` in “${text.trim().slice(0, 40)}”`);
        }
    }

    for (const piece of pieces) {
      if (piece.element.closest("svg") !== null) continue;
      const box = piece.block.getBoundingClientRect();
      if (piece.left < box.left - SLACK_PX || piece.right > box.right + SLACK_PX)
        say(`out of its box by ${Math.round(Math.max(box.left - piece.left, piece.right - box.right))} px`, piece.text);
      if (piece.right > innerWidth + SLACK_PX || piece.left < -SLACK_PX) say("off the screen", piece.text);
    }

    const sorted = pieces.toSorted((a, b) => a.top - b.top);
    sorted.forEach((a, index) => {
      for (let at = index + 1; at < sorted.length; at += 1) {
        const b = sorted[at];
        if (b === undefined || b.top > a.bottom - TOUCH_PX) break;
        if (a.element === b.element) continue;
        // Boxes of a font are higher than its letters: a fifth of each is air.
        const high =
          Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) - 0.2 * Math.min(a.bottom - a.top, b.bottom - b.top);
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        if (high <= TOUCH_PX || wide <= TOUCH_PX) continue;
        const front = document.elementFromPoint(
          (Math.max(a.left, b.left) + Math.min(a.right, b.right)) / 2,
          (Math.max(a.top, b.top) + Math.min(a.bottom, b.bottom)) / 2,
        );
        // A bar that stays while the page moves under it covers what it passes.
        if (front !== null && [a, b].some(({ element }) => inFixed(element) !== inFixed(front))) continue;
        say("overlaps", a.text, ` and “${b.text.trim().slice(0, 40)}”`);
      }
    });
    function inFixed(element: Element): Element | null {
      for (let at: Element | null = element; at !== null; at = at.parentElement)
        if (/^(fixed|sticky)$/.test(getComputedStyle(at).position)) return at;
      return null;
    }
    return [...new Set(faults)];
  });
}

/** Keys and fields that a person at the station could not reach without scrolling, each with its name. */
export function keysOffTheScreen(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const faults: string[] = [];
    const root = document.querySelector("dialog[open]") ?? document.body;
    for (const key of root.querySelectorAll<HTMLElement>("button, input, select, textarea, summary, a[href]")) {
      if (!key.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
      const box = key.getBoundingClientRect();
      if (box.width < 2 || key.closest(".visuallyHidden, .skipLink") !== null) continue;
      const over = Math.max(box.bottom - innerHeight, box.right - innerWidth, -box.top, -box.left);
      if (over > 1)
        faults.push(
          `“${(key.innerText || key.getAttribute("aria-label") || key.tagName).trim()}” is ${Math.round(over)} px off the screen`,
        );
    }
    const below = document.documentElement.scrollHeight - innerHeight;
    if (below > 1) faults.push(`the screen is ${below} px too high`);
    return faults;
  });
}

/**
 * Makes the words of the page 35 % longer, as they are in many languages, by doubling vowels. Serials, keys and numbers stay, and
 * so do drawings, whose labels have layouts and tests of their own.
 */
export function lengthenTexts(page: Page): Promise<void> {
  return page.evaluate(() => {
    const MORE = 0.35;
    const lengthen = (text: string): string => {
      let owed = 0;
      return text.replace(/[^\s]+/g, (word) => {
        if (/\d|@|^[A-Z]{2,4}$/.test(word) || !/[a-z]{2}/i.test(word)) return word;
        owed += word.length * MORE;
        let longer = word;
        while (owed >= 0.5) {
          const at = longer.search(/[aeiouy](?=[a-z]*[^a-z]*$)/i);
          const place = at < 0 ? longer.length - 1 : at;
          longer = longer.slice(0, place + 1) + (longer[place] ?? "").toLowerCase() + longer.slice(place + 1);
          owed -= 1;
        }
        return longer;
      });
    };
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const nodes: Node[] = [];
    while (walker.nextNode()) nodes.push(walker.currentNode);
    for (const node of nodes) {
      const element = node.parentElement;
      if (element === null || element.closest("svg, script, style, .mono, code") !== null) continue;
      if (/mono/i.test(getComputedStyle(element).fontFamily.split(",")[0] ?? "")) continue;
      node.nodeValue = lengthen(node.nodeValue ?? "");
    }
    for (const cell of document.querySelectorAll("[data-label]"))
      cell.setAttribute("data-label", lengthen(cell.getAttribute("data-label") ?? ""));
    for (const field of document.querySelectorAll("[placeholder]"))
      field.setAttribute("placeholder", lengthen(field.getAttribute("placeholder") ?? ""));
  });
}
