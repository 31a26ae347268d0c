// Which rows of a long table are drawn: those in view and a few beyond.

export interface Window {
  first: number;
  /** One past the last row drawn. */
  end: number;
  above: number;
  below: number;
}

export function rowsInView(count: number, rowHeight: number, scrolled: number, viewHeight: number, beyond = 8): Window {
  const at = Math.floor(Math.max(0, scrolled) / rowHeight);
  const first = Math.max(0, Math.min(at - beyond, count - 1));
  const end = Math.max(first, Math.min(count, Math.ceil((scrolled + viewHeight) / rowHeight) + beyond));
  return count === 0
    ? { first: 0, end: 0, above: 0, below: 0 }
    : { first, end, above: first * rowHeight, below: (count - end) * rowHeight };
}

/** scrollToShow is where to scroll so that the row is in full view, or where it already is. */
export function scrollToShow(row: number, rowHeight: number, scrolled: number, viewHeight: number): number {
  const [top, bottom] = [row * rowHeight, (row + 1) * rowHeight];
  if (top < scrolled) return top;
  if (bottom > scrolled + viewHeight) return bottom - viewHeight;
  return scrolled;
}
