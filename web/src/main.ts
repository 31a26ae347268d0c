import './lib/ui/tokens.css';
import './lib/ui/base.css';
import './lib/ui/bench.css';
import './lib/ui/paper.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { register, wanted } from './lib/offline/shell';

const target = document.getElementById('app');
if (!target) throw new Error('index.html has no element with the id app');
mount(App, { target });

// Nothing sets this yet: the page that needs it comes with the deck.
if (wanted) void register((takeOver) => void takeOver().then(() => location.reload()));
