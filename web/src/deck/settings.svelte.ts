// How this tablet looks and sounds; kept on it.

export const looks = ['sunlight', 'dark', 'night'] as const;
export type Look = (typeof looks)[number];

const themeKey = 'brinefield.theme'; // read by public/theme.js before the first paint
const key = (name: string): string => `brinefield.deck.${name}`;

function read(name: string): string | null {
  try {
    return localStorage.getItem(name);
  } catch {
    return null; // storage refused: the choice lasts as long as the page
  }
}

function write(name: string, value: string): void {
  try {
    localStorage.setItem(name, value);
  } catch {
    // as above
  }
}

const systemIsDark = (): boolean => matchMedia('(prefers-color-scheme: dark)').matches;

/** The laptop's pages have themes of their own under the same key. */
function firstLook(): Look {
  const kept = read(themeKey);
  return looks.find((l) => l === kept) ?? (kept !== 'light' && systemIsDark() ? 'dark' : 'sunlight');
}

export class Settings {
  look = $state<Look>(firstLook());
  sound = $state(read(key('sound')) !== 'off');
  vibration = $state(read(key('vibration')) !== 'off');
  awake = $state(read(key('awake')) !== 'off');

  choose(look: Look): void {
    this.look = look;
    write(themeKey, look);
  }

  switch(name: 'sound' | 'vibration' | 'awake', on: boolean): void {
    this[name] = on;
    write(key(name), on ? 'on' : 'off');
  }
}

export const settings = new Settings();
