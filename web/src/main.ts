import './lib/ui/tokens.css';
import './lib/ui/base.css';

const target = document.getElementById('app');
if (!target) throw new Error('index.html has no element with the id app');

// The tablet's pages and the laptop's have nothing to load from each other.
if (/^\/deck(\/|$)/.test(location.pathname)) void import('./deck/start').then(({ start }) => start(target));
else void import('./laptop').then(({ start }) => start(target));
