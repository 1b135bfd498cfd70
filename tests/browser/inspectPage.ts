/** What a real browser made of a page: text that is cut, that overlaps, that hardly stands out; run inside the page. */

/** A piece of text where it was drawn, CSS px. */
export interface Piece {
  readonly text: string;
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** What was found. */
export interface PageFindings {
  /** Pieces looked at, so that a check of nothing is seen. */
  readonly pieces: number;
  readonly cut: readonly string[];
  readonly overlapping: readonly string[];
}

/**
 * To be handed to `page.evaluate`: every visible line of text, HTML and SVG. Text is cut where it leaves the page, or a
 * box that hides what does not fit, or its own picture; a box that scrolls may hold more than it shows.
 */
export function inspectPage(): PageFindings {
  const pen = document.createElement('canvas').getContext('2d')!;
  /** The box of an SVG text is as high as its font; its letters are not. */
  const inkOf = (text: SVGTextElement): DOMRect => {
    const box = text.getBoundingClientRect();
    const style = getComputedStyle(text);
    pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const m = pen.measureText(text.textContent ?? '');
    const scale = text.getScreenCTM()?.d ?? 1;
    const baseline =
      box.top + (box.height * m.fontBoundingBoxAscent) / (m.fontBoundingBoxAscent + m.fontBoundingBoxDescent);
    const top = baseline - m.actualBoundingBoxAscent * scale;
    return new DOMRect(box.left, top, box.width, baseline + m.actualBoundingBoxDescent * scale - top);
  };
  const pieces: (Piece & { readonly home: Element })[] = [];
  const cut: string[] = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const parent = node.parentElement;
    const text = node.nodeValue?.trim() ?? '';
    if (parent === null || text === '' || parent.closest('title,desc,style,script,[aria-hidden="true"]'))
      continue;
    if (!parent.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const rects =
      parent.closest('svg') === null
        ? [...range.getClientRects()]
        : [inkOf(parent as unknown as SVGTextElement)];
    for (const rect of rects) {
      if (rect.width < 1 || rect.height < 1) continue;
      const piece = {
        text: text.slice(0, 60),
        left: rect.left,
        top: rect.top,
        right: rect.right,
        bottom: rect.bottom,
        home: parent,
      };
      pieces.push(piece);
      const picture = parent.closest('svg');
      const scrolls = parent.closest('.scroll');
      if (picture !== null) {
        const frame = picture.getBoundingClientRect();
        if (
          rect.left < frame.left - 1 ||
          rect.right > frame.right + 1 ||
          rect.top < frame.top - 1 ||
          rect.bottom > frame.bottom + 1
        )
          cut.push(
            `${piece.text} (leaves its picture by ${Math.max(frame.left - rect.left, rect.right - frame.right, frame.top - rect.top, rect.bottom - frame.bottom).toFixed(1)} px)`,
          );
      }
      if (scrolls === null && (rect.left < -1 || rect.right > window.innerWidth + 1))
        cut.push(`${piece.text} (leaves the page)`);
      for (let box: Element | null = parent; box !== null; box = box.parentElement) {
        const { overflowX } = getComputedStyle(box);
        if (overflowX !== 'hidden' && overflowX !== 'clip') continue;
        const frame = box.getBoundingClientRect();
        if (rect.right > frame.right + 1 || rect.bottom > frame.bottom + 1)
          cut.push(`${piece.text} (hidden by its box)`);
      }
    }
  }
  // Lines may share a little leading; letters may not.
  const overlapping: string[] = [];
  const sorted = [...pieces].sort((a, b) => a.top - b.top);
  for (const [i, a] of sorted.entries()) {
    for (let k = i + 1; k < sorted.length && sorted[k]!.top < a.bottom; k++) {
      const b = sorted[k]!;
      const width = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const height = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      const lower = Math.min(a.bottom - a.top, b.bottom - b.top);
      if (width > 1.5 && height > 0.3 * lower) overlapping.push(`"${a.text}" and "${b.text}"`);
    }
  }
  return { pieces: pieces.length, cut, overlapping };
}
