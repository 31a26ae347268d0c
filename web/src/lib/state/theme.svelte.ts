// The chosen theme and the one in force. public/theme.js sets the first paint.

export const choices = ['system', 'light', 'dark', 'sunlight', 'night'] as const;
export type Choice = (typeof choices)[number];

const key = 'brinefield.theme';

function stored(): Choice {
  try {
    const value = localStorage.getItem(key);
    return choices.find((c) => c === value) ?? 'system';
  } catch {
    return 'system'; // storage refused: the choice lasts as long as the page
  }
}

export class Theme {
  choice = $state<Choice>(stored());
  #dark = $state(matchMedia('(prefers-color-scheme: dark)').matches);
  readonly inForce = $derived(this.choice === 'system' ? (this.#dark ? 'dark' : 'light') : this.choice);

  constructor() {
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', (e) => (this.#dark = e.matches));
  }

  choose(choice: Choice): void {
    this.choice = choice;
    try {
      localStorage.setItem(key, choice);
    } catch {
      // storage refused: the choice lasts as long as the page
    }
  }
}

export const theme = new Theme();
