import { em } from './phrase';
import { plural } from './numbers';

export const figures = {
  fieldAxis: 'field met, nV/cm',
  shareAxis: 'share of passes that would turn',
  secondsAxis: 'seconds since watching began',
  reactionAxis: 'reaction time, s',
  medianAxis: 'median, nV/cm',
  curves: {
    name: (species: string) => `thresholds of ${species}`,
    title: (species: string) => `Detection thresholds of ${em(species)}`,
    description: (median: string) =>
      `Share of passes that would turn by a field, against the field on a logarithmic axis: the fitted detection curve with its 95 % band${median ? `, crossing one half at ${median} nV/cm` : ''}, simpler fits, and the step curve.`,
    detection: 'detection model',
    band: '95 % band',
    lognormal: 'lognormal',
    individual: 'lognormal, individuals',
    steps: 'step curve',
    caption:
      'Boxes: the step curve climbs somewhere within; the data do not say where. Bar on the axis: 95 % interval of the median.',
    median: 'median',
  },
  forest: {
    name: 'medians by method',
    title: 'Median by method',
    description:
      'For each species and method, the median on a logarithmic axis with its interval; the shaded band is the interval of the detection model.',
    none: 'not estimable',
  },
  shares: {
    name: 'turns by role',
    title: 'Share of passes with a turn',
    description: 'For each species, the share of passes with a turn at active pairs and at control pairs.',
    axis: 'passes with a turn',
    active: 'active pair',
    control: 'control pairs',
  },
  animals: {
    name: 'individuals',
    title: 'Field by animal',
    description:
      'For each animal, the smallest field at which it turned and the largest it met without turning, on a logarithmic axis.',
    turned: 'smallest field by which it had turned',
    ignored: 'largest field met without turning',
  },
  sensitivity: {
    name: 'median by reaction time',
    title: 'Median by reaction time',
    description: 'The detection median of each species had the reaction time been 0 to 0.2 s.',
    used: 'used',
  },
  uncertainty: {
    name: 'median by uncertain input',
    title: 'What uncertain inputs do to the median',
    description:
      'For each species, a bar on a logarithmic axis from the lowest to the highest detection median with one input of the season off by one standard deviation; the shaded band is the 95 % interval.',
  },
  along: {
    name: (pass: string) => `field along ${pass}`,
    title: (pass: string) => `Field along the track of ${pass}`,
    description:
      'The field at the head against time on a logarithmic axis, with the interval in which the threshold lies, the onset and the reaction time.',
    met: 'field met',
    phantom: 'phantom field',
    interval: 'threshold lies here',
    above: 'threshold above',
    onset: 'onset',
    reaction: 'reaction time',
  },
  sealedAlong: {
    name: (pass: string) => `phantom field along ${pass}`,
    title: (pass: string) => `Phantom field along the track of ${pass}`,
    description:
      'While it is sealed which pair was active: the field that the pair of this pass would give at the head, for each µA through it, against time on a logarithmic axis.',
    legend: 'Phantom field for each µA at its own pair',
    unit: 'nV/cm for each µA',
  },
  plan: { name: 'plan' },
  columns: (n: number) => plural(n, 'column', 'columns'),
};
