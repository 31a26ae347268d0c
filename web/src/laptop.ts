// The laptop's pages.
import './lib/ui/bench.css';
import './lib/ui/paper.css';
import { mount } from 'svelte';
import App from './App.svelte';

export function start(target: HTMLElement): void {
  target.replaceChildren();
  mount(App, { target });
}
