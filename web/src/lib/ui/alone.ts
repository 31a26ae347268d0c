// One element alone on paper: while it is on the page, nothing else is printed.
import type { Attachment } from 'svelte/attachments';

const mark = 'data-not-printed';

/** alone marks everything beside the element and its ancestors; the style sheet of the page leaves out what is marked. */
export const alone = (): Attachment => (element) => {
  const marked: Element[] = [];
  for (let here: Element | null = element; here && here !== document.body; here = here.parentElement) {
    for (const other of here.parentElement?.children ?? []) {
      if (other === here || other.hasAttribute(mark)) continue;
      other.setAttribute(mark, '');
      marked.push(other);
    }
  }
  return () => marked.forEach((m) => m.removeAttribute(mark));
};
