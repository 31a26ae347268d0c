// Who is writing: the author of every change made in this browser.

const key = 'brinefield.writer';

function stored(): string {
  try {
    return localStorage.getItem(key) ?? '';
  } catch {
    return ''; // storage refused: the name lasts as long as the page
  }
}

export class Writer {
  /** "" where nobody was named. */
  name = $state(stored());

  set(name: string): void {
    this.name = name.trim().replace(/\s+/g, ' ');
    try {
      localStorage.setItem(key, this.name);
    } catch {
      // storage refused: the name lasts as long as the page
    }
  }
}

export const writer = new Writer();
