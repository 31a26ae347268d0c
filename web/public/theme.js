// Sets the theme before the first paint; src/lib/state/theme.svelte.ts keeps it from then on.
(function () {
  let choice = 'system';
  try {
    choice = localStorage.getItem('brinefield.theme') || 'system';
  } catch {
    // storage refused: the system's theme is used
  }
  const dark = matchMedia('(prefers-color-scheme: dark)').matches;
  document.documentElement.dataset.theme = choice === 'system' ? (dark ? 'dark' : 'light') : choice;
})();
