// Keys as people handle them: typed from paper, told by their end, protected by
// a passphrase. Nothing here is kept.

const prefix = 'AGE-SECRET-KEY-1';

/** secretLine finds the secret key in the text of a key's file; "" where it is protected or none. */
export const secretLine = (file: string): string => /AGE-SECRET-KEY-1[A-Z0-9]+/.exec(file)?.[0] ?? '';

/** secretGroups parts a secret key for paper: its beginning, then groups of four letters. */
export function secretGroups(secret: string): string[] {
  const rest = secret.startsWith(prefix) ? secret.slice(prefix.length) : secret;
  return [...(secret.startsWith(prefix) ? [prefix] : []), ...fours(rest)];
}

/** fours parts letters into groups of four. */
export const fours = (text: string): string[] => text.match(/.{1,4}/g) ?? [];

/**
 * typedKey reads a recovery key as it was typed from paper: in any case, with
 * or without its beginning, spaces and dashes. The letters B, I, O and the
 * figure 1 do not occur after the beginning (BIP 173), so that they are read as
 * what they were taken for.
 */
export function typedKey(typed: string): string {
  const plain = typed.toUpperCase().replace(/[^A-Z0-9]/g, '');
  const begin = /^AGESECRETKEY[1IL]/.exec(plain)?.[0] ?? '';
  const rest = plain.slice(begin.length).replace(/[1I]/g, 'L').replaceAll('O', '0').replaceAll('B', '8');
  return rest ? prefix + rest : '';
}

/** So many letters follow the beginning: 32 bytes and a checksum of 6 in groups of 5 bits. */
export const secretLength = 58;

/** publicEnd tells public keys apart for people. */
export const publicEnd = (key: string): string => key.slice(-6);

export const keyFileName = (key: string): string => `brinefield-key-${publicEnd(key)}.txt`;

export type Strength = 'none' | 'short' | 'simple' | 'good';

/** strengthOf is a rough hint: length counts most, and few different letters count little. */
export function strengthOf(passphrase: string): Strength {
  if (passphrase === '') return 'none';
  const different = new Set(passphrase.toLowerCase()).size;
  if (passphrase.length < 12 || different < 6) return 'short';
  if (passphrase.length < 20 || different < 9) return 'simple';
  return 'good';
}

/** A key that a schedule will be sealed to. */
export interface ChosenKey {
  public: string;
  holder: string;
  kind: 'lead' | 'recovery' | 'pasted';
}

export const leastKeys = 2;
export const mostKeys = 8;
