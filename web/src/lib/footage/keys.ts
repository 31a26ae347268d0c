// The keys that move a player in time, the same on every page that shows one.
import type { Player } from './player.svelte';

/** typing tells whether the key belongs to what has the focus: a field, a list, a dialog. */
export function typing(e: KeyboardEvent): boolean {
  const at = e.target instanceof Element ? e.target : null;
  if (!at) return false;
  if (at.closest('dialog, [role="menu"], [role="listbox"]')) return true;
  if (at instanceof HTMLInputElement) {
    if (at.type === 'checkbox') return e.key === ' ';
    if (at.type === 'radio') return e.key === ' ' || e.key.startsWith('Arrow');
    return at.type !== 'range';
  }
  if (at.closest('textarea, select, [contenteditable="true"], [data-own-keys]')) return true;
  return (e.key === ' ' || e.key === 'Enter') && at.closest('button, a, summary') !== null;
}

/** playerKey does what the key says; false where it says nothing. marks: whether start, onset and end can be set. */
export function playerKey(player: Player, e: KeyboardEvent, marks: boolean): boolean {
  if (player.sheet) return sheetKey(player, e);
  const far = e.shiftKey;
  const second = e.ctrlKey || e.altKey;
  switch (e.key) {
    case 'ArrowLeft':
    case 'ArrowRight': {
      if (e.metaKey) return false;
      const way = e.key === 'ArrowLeft' ? -1 : 1;
      if (second) player.skip(way * (far ? 10 : 1));
      else player.step(way * (far ? 10 : 1));
      return true;
    }
  }
  if (second || e.metaKey) return false;
  const [from, to] = player.span;
  const mark = ({ i: 'start', o: 'onset', e: 'end' } as const)[e.key.toLowerCase()];
  switch (e.key) {
    case ',':
    case '<':
      return done(player.step(far ? -10 : -1));
    case '.':
    case '>':
      return done(player.step(far ? 10 : 1));
    case 'Home':
      return done(player.seek(from));
    case 'End':
      return done(player.seek(to));
    case ' ':
      return done(player.toggle());
    case 'j':
      return done(player.shuttle(-1));
    case 'k':
      return done(player.pause());
    case 'l':
      return done(player.shuttle(1));
    case 's':
      return done(player.openSheet());
  }
  if (!mark) return false;
  if (far) {
    const at = player.marks[mark];
    if (at !== undefined) player.seek(at);
    return true;
  }
  if (marks) player.mark(mark);
  return marks;
}

function sheetKey(player: Player, e: KeyboardEvent): boolean {
  if (e.ctrlKey || e.altKey || e.metaKey) return false;
  if (e.key === 'Escape' || e.key === 'Backspace') return done(player.sheetUp());
  const at = player.pieces.find((p) => p.letter === e.key.toUpperCase());
  if (at) player.choose(at);
  return at !== undefined;
}

const done = (_: void): true => true;
