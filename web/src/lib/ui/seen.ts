// Work that costs seconds is begun when its place comes into view.
import type { Attachment } from 'svelte/attachments';

/** seen calls once the element is about to be scrolled into view. */
export const seen =
  (then: () => void): Attachment =>
  (element) => {
    const watch = new IntersectionObserver(
      (entries) => {
        if (!entries.some((e) => e.isIntersecting)) return;
        watch.disconnect();
        then();
      },
      { rootMargin: '200px' },
    );
    watch.observe(element);
    return () => watch.disconnect();
  };
