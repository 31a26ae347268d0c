// Where a sheet of paper is kept while it is typed in, and its date.

/** Where a sheet is kept: localStorage, or nothing where the browser refuses it. */
export interface Shelf {
  read(): string | null;
  /** False where it could not be kept. */
  write(text: string): boolean;
}

export const shelfOf = (identity: string): Shelf => {
  const key = `brinefield.paper.${identity}`;
  return {
    read: () => {
      try {
        return localStorage.getItem(key);
      } catch {
        return null;
      }
    },
    write: (text) => {
      try {
        if (text) localStorage.setItem(key, text);
        else localStorage.removeItem(key);
        return true;
      } catch {
        return false;
      }
    },
  };
};

/** isDate tells a date that there is. */
export function isDate(text: string): boolean {
  if (!/^\d{4}-\d\d-\d\d$/.test(text)) return false;
  const date = new Date(`${text}T00:00:00Z`);
  return !Number.isNaN(date.getTime()) && date.toISOString().slice(0, 10) === text;
}

/** todayAt is the date at the site now. */
export function todayAt(zone: string, now: Date): string {
  try {
    const parts = new Intl.DateTimeFormat('en-GB', {
      timeZone: zone,
      year: 'numeric',
      month: '2-digit',
      day: '2-digit',
    }).formatToParts(now);
    return ['year', 'month', 'day'].map((t) => parts.find((p) => p.type === t)?.value ?? '').join('-');
  } catch {
    return now.toISOString().slice(0, 10); // a zone that this browser does not know
  }
}
