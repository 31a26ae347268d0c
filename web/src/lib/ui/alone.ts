// One element alone on paper: while it is on the page, nothing else is printed.
// Of several the one that came last is printed.
import type { Attachment } from 'svelte/attachments';

const mark = 'data-not-printed';
const open: Element[] = [];

/** show marks everything beside the last element and its ancestors; the style sheets leave out what is marked. */
function show(): void {
  for (const marked of document.querySelectorAll(`[${mark}]`)) marked.removeAttribute(mark);
  for (let here = open.at(-1) ?? null; here && here !== document.body; here = here.parentElement) {
    for (const other of here.parentElement?.children ?? []) {
      if (other !== here) other.setAttribute(mark, '');
    }
  }
}

export const alone = (): Attachment => (element) => {
  open.push(element);
  show();
  return () => {
    open.splice(open.indexOf(element), 1);
    show();
  };
};
