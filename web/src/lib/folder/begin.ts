// From a gesture (a drop, a choice) to the page of the import.
import { home } from '$lib/state/home.svelte';
import { imports } from '$lib/state/import.svelte';
import { route } from '$lib/state/route.svelte';
import { ofChosen, ofDropped } from './folder';

/** chosen begins with what a folder input holds. */
export function chosen(input: HTMLInputElement, into = ''): void {
  const files = [...(input.files ?? [])];
  input.value = ''; // the same folder can be chosen again
  if (files.length > 0) begin(new Promise((done) => done(ofChosen(files))), into);
}

/** dropped begins with what was dropped; its entries are gone after this event. */
export function dropped(transfer: DataTransfer, into = ''): void {
  const entries = [...transfer.items].map((i) => i.webkitGetAsEntry()).filter((e) => e !== null);
  begin(ofDropped(entries), into);
}

function begin(folder: ReturnType<typeof ofDropped>, into: string): void {
  void imports.take(folder, into, home.card(into)?.blind ?? false);
  route.go('/?import');
}
