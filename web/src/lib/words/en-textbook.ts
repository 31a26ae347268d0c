// How far the textbook form of the field is off, for the passes at hand.
import { percent, plural, ratio, sig, whole } from './numbers';

const unit = 'nV/cm';

export const textbook = {
  title: 'How far is the textbook off?',
  lead: 'The field at a distance is usually worked out with a short form, *ρ* *I* *d* · |cos *θ*| / (π *r*³). Each dot is a pass: what the short form gives, divided by the field that was computed at the same place for the same pair and current. On the line both agree; below it the short form is too small.',
  why: 'The short form is only the part of the field that points along the line to the pair. Along the axis that is all of it. Beside the pair, at 90°, it is 0, while the field there is still half of what it is on the axis at the same distance. It also takes the bottom as endless and insulating and the pair as very small, and so knows no edge of a plate, no sediment, no surface and no wall.',
  blind: 'Every pass is compared as if its own pair were driven: the dots do not tell which pair was active.',
  none: 'No pass here can be compared: that needs a pass with a track and a known height, in a trial that is not sealed.',
  by: 'Lay out',
  ways: { distance: 'by distance', angle: 'by angle' },
  keys: 'Left and right arrows step through the dots, Enter goes to the pass, Escape lets it go.',
  numbers: 'In numbers',
  compared: 'Passes compared',
  of: (n: number, all: number) => (n === all ? whole(n) : `${whole(n)} of ${whole(all)}`),
  median: 'Median of textbook ÷ computed',
  offTenth: 'Off by more than 10 %',
  offTwofold: 'Off by more than a factor of 2',
  smallest: 'Smallest field at a turn',
  smallestOf: (turns: number) => `${plural(turns, 'turn', 'turns')} at the active pair, the field not falling`,
  noTurns: 'No turn at an active pair is among them.',
  textbook: 'Textbook',
  computed: 'Computed',
  field: (v: number) => `${sig(v)} ${unit}`,
  share: (share: number | null) => (share === null ? '–' : percent(share)),
  ratio: (r: number | null) => (r === null ? '–' : ratio(r)),
  table: 'The same as a table',
  classes: { distance: 'Distance, cm', angle: 'Angle, °' },
  class: (low: string, high: string) => `${low}–${high}`,
  passes: 'Passes',
  hovered: (pass: string, cm: number, deg: number, r: number) => `${pass} · ${sig(cm)} cm · ${sig(deg)}° · ${ratio(r)}`,
  figure: {
    name: (by: string) => `textbook against computed ${by}`,
    title: (by: string) => `Textbook field divided by the computed one, ${by}`,
    description: (passes: number, median: number, offTenth: number, offTwofold: number) =>
      `${plural(passes, 'pass', 'passes')}, one dot each. Half of them lie below ${ratio(median)}. The textbook is off by more than 10 % on ${percent(offTenth)} and by more than a factor of 2 on ${percent(offTwofold)}.`,
    ratioAxis: 'textbook ÷ computed',
    distanceAxis: 'distance from the pair, cm',
    angleAxis: 'angle between the axis of the pair and the line to the head, °',
    tick: (v: number) => (v < 1 ? `1/${sig(1 / v, 1)}` : sig(v, 1)),
    beyond: 'beyond',
    tooLarge: 'textbook too large',
    tooSmall: 'textbook too small',
    agree: 'both agree, ± 10 %',
    ideal: 'ideal small pair on an insulating bottom',
    noTurn: 'no turn',
  },
  detail: {
    title: 'Field of this pair at the place of the head',
    caption: (uA: string) => `In nV/cm, at ${uA} µA through this pair: in all, and along its axis, across it and up`,
    captionNoCurrent: 'In nV/cm: in all, and along the axis of the pair, across it and up',
    value: 'Field',
    magnitude: 'Magnitude',
    along: 'Along',
    across: 'Across',
    up: 'Up',
    computed: 'Computed',
    textbook: 'Textbook form',
    notGiven: 'not given',
    verdict: (r: number) =>
      r >= 0.9 && r <= 1.1
        ? 'The textbook form is within 10 % here.'
        : r === 0
          ? 'The textbook form is 0 here: the head was exactly beside the pair.'
          : `The textbook form gives ${ratio(r)} the computed field here.`,
  },
};
