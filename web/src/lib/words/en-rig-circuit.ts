import { plural } from './numbers';

/** What the switch does with a silent pair. */
export const silentStates: Record<string, string> = {
  open_both: 'both legs open',
  open_one: 'one leg open',
  closed: 'legs joined',
};

export const circuit = {
  title: 'Circuit',
  name: 'circuit of the rig',
  figure: 'Circuit diagram of the rig',
  description: (said: string[]) => said.filter(Boolean).join(' '),
  said: {
    battery: (v: string, ohm: string) => `A battery of ${v} with ${ohm} inside.`,
    constant: (v: string) => `A supply of constant current that gives up to ${v}.`,
    limiting: (a: string, b: string) => `Potted with it, ${a} in the positive leg and ${b} in the negative leg.`,
    ladder: (list: string) => `The ladder of the switch, each position with all resistors before it: ${list}.`,
    position: (label: string, step: string, uA: string) => `${label}, ${step}, ${uA}`,
    cable: (cable: string, leg: string) => `Each pair has its own ${cable}, ${leg} a leg.`,
    pairs: (driven: string, silent: string, how: string) =>
      silent ? `Pair ${driven} is driven; ${silent} silent, ${how}.` : `Pair ${driven} is driven.`,
    chosen: (label: string) => `Position ${label} is chosen.`,
  },
  potted: 'potted together at the battery',
  inside: (ohm: string) => `${ohm} inside`,
  constant: 'constant current',
  plus: '+',
  minus: '−',
  ammeter: 'A',
  ammeterOut: 'only to measure',
  switch: 'position switch',
  noStep: 'no resistor',
  settings: (list: string) => `Settings of the supply: ${list}`,
  driven: (label: string) => `${label}, driven`,
  silent: (label: string) => `${label}, silent`,
  state: (state: string) => silentStates[state] ?? state,
  cableIs: (length: string) => `cable ${length} m`,
  awg: (n: number) => `AWG ${n}`,
  mm2: (a: string, c: string) => `${a} mm², class ${c}`,
  leg: (ohm: string) => `${ohm} a leg`,
  bridge: 'salt bridge',
  water: (ohm: string) => `water ${ohm}`,
  waterIs: (s: string) => `sea water, ${s} S/m`,
  plate: 'plate',
  more: (n: number) => `and ${plural(n, 'more silent pair', 'more silent pairs')}`,
  chosen: (label: string, pair: string) => `Position ${label}, pair ${pair}`,
  chosenNominal: (uA: string) => `${uA} µA nominal`,
  chosenMeasured: (uA: string, on: string) => `${uA} µA measured on ${on}`,
  chosenWorst: (low: string, high: string) => `${low} to ${high} µA at worst`,
  chosenSeason: (low: string, high: string) => `${low} to ${high} µA from empty to full battery`,
};
