// The tablet's pages: a chunk of their own, without the laptop's.
import './deck.css';
import { mount } from 'svelte';
import { register } from '$lib/offline/shell';
import Deck from './Deck.svelte';
import { update } from './update.svelte';

function head(rel: string, href: string): void {
  const link = document.createElement('link');
  link.rel = rel;
  link.href = href;
  document.head.append(link);
}

export function start(target: HTMLElement): void {
  document.documentElement.classList.add('deck');
  // A long press on a wet screen opens nothing.
  document.addEventListener('contextmenu', (e) => {
    if (!(e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement)) e.preventDefault();
  });
  target.replaceChildren();
  mount(Deck, { target });
  head('manifest', '/manifest.webmanifest');
  head('apple-touch-icon', '/icon-192.png');
  // After the first paint: what it fetches must not stand in its way.
  requestAnimationFrame(() => setTimeout(() => void update.watch(register)));
}
