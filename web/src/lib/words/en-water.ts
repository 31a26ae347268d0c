import { plural, whole } from './numbers';

const sources: Record<'trial' | 'trial_salinity' | 'cast' | 'study', string> = {
  trial: 'measured in the trial',
  trial_salinity: 'temperature and salinity of the trial',
  cast: 'the cast nearest in time',
  study: 'stated for the study',
};

export const water = {
  title: 'Water',
  lead: 'What the water conducted. The field that an animal meets is in inverse proportion to it.',
  statement: 'Where a trial says nothing',
  noStatement: 'The study does not state its water yet.',
  depth: 'Depth of the water',
  metres: (m: string) => `${m} m`,
  edit: 'Change it in the tables',
  casts: {
    title: 'Casts',
    lead: (n: number) =>
      n === 1
        ? 'One cast. A trial without water of its own takes the reading at the depth of its plate.'
        : `${whole(n)} casts. A trial without water of its own takes the reading at the depth of its plate in the cast nearest in time.`,
    none: 'This study has no cast: its water is stated, or measured in each trial.',
    choose: 'Casts shown',
    all: 'Show all',
    few: (n: number) => `Show ${whole(n)} of them, first to last`,
    nothing: 'No cast is chosen.',
    table: 'The readings as a table',
    time: 'Cast',
    depth: 'Depth, m',
    temperature: 'Temperature, °C',
    salinity: 'Salinity',
    conductivity: 'Conductivity, S/m',
    how: 'How',
    computed: 'worked out from temperature and salinity (PSS-78)',
    measured: 'read',
    open: 'Open marks: worked out from temperature and salinity (PSS-78).',
  },
  trials: {
    title: 'Conductivity by trial',
    lead: 'The order of preference: measured in the trial, its temperature and salinity, the cast, the statement of the study.',
    none: 'There are no trials yet.',
    caption: 'Conductivity of each trial, and what it comes from',
    trial: 'Trial',
    start: 'Start',
    conductivity: 'Conductivity, S/m',
    from: 'From',
    depth: 'Depth, m',
    unknown: 'not known',
    ofCast: (time: string) => `the cast of ${time}`,
    other: 'not stated',
  },
  nothing: '–',
  warnings: 'To bear in mind',
  figures: {
    castName: 'casts',
    castTitle: 'Casts: temperature, salinity and conductivity by depth',
    castDescription: (said: string) =>
      `Profiles side by side, depth downwards from the surface; later casts have later colours, and each its own dash and mark. ${said}`.trim(),
    castSaid: (time: string, readings: number, ranges: string[]) =>
      `Cast of ${time}, ${plural(readings, 'reading', 'readings')}: ${ranges.join('; ') || 'nothing was read'}.`,
    range: (profile: string, from: { value: string; depth: string }, to: { value: string; depth: string }) =>
      `${profile} ${from.value} at ${from.depth} m to ${to.value} at ${to.depth} m`,
    reading: (time: string, depth: string, profile: string, value: string, computed: boolean) =>
      `${time}, ${depth} m: ${profile} ${value}${computed ? ', worked out' : ''}`,
    depthAxis: 'depth, m',
    profiles: {
      temperature_C: 'temperature, °C',
      salinity: 'salinity',
      conductivity_S_per_m: 'conductivity, S/m',
    },
    trialName: 'conductivity by trial',
    trialTitle: 'Conductivity of the water in each trial',
    trialDescription: (said: string, unknown: number) =>
      [
        'Conductivity in S/m against the start of each trial; the shape of a mark tells what the value comes from.',
        said,
        unknown > 0 ? `Not known in ${plural(unknown, 'trial', 'trials')}.` : '',
      ]
        .filter(Boolean)
        .join(' '),
    trialRange: (low: string, high: string, counts: string) => `From ${low} to ${high} S/m. ${counts}.`,
    trial: (trial: string, start: string, value: string, from: string) => `${trial}, ${start}: ${value} S/m, ${from}`,
    timeAxis: 'start of the trial, by the site’s clock',
    conductivityAxis: 'conductivity, S/m',
    sources,
  },
};
