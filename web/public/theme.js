// Sets the theme before the first paint; src/lib/state/theme.svelte.ts keeps it from then on,
// on the tablet's pages src/deck/settings.svelte.ts.
(function () {
  let choice = 'system';
  try {
    choice = localStorage.getItem('brinefield.theme') || 'system';
  } catch {
    // storage refused: the system's theme is used
  }
  const deck = /^\/deck(\/|$)/.test(location.pathname);
  const dark = matchMedia('(prefers-color-scheme: dark)').matches;
  if (choice === 'system') choice = dark ? 'dark' : 'light';
  // The build puts the tablet's files here, so that they are fetched at once and not one after the other.
  if (deck)
    for (const file of '%DECK%'.split(' ').filter((f) => f[0] === '/')) {
      const link = document.createElement('link');
      link.rel = file.endsWith('.css') ? 'preload' : 'modulepreload';
      if (link.rel === 'preload') link.as = 'style';
      link.crossOrigin = ''; // as the page asks for them: else they would be fetched twice
      link.href = file;
      document.head.append(link);
    }
  document.documentElement.dataset.theme = deck && choice === 'light' ? 'sunlight' : choice;
})();
