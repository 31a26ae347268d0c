// An invented study as the laptop gives it to a tablet.

export const identity = '01c38c8e-8180-7000-9715-609f7c746c69';

export const view = () => ({
  study: 'bay',
  identity,
  title: 'Bay trials (invented)',
  site_name: 'Skerrymore bay (invented)',
  zone: 'Europe/Dublin',
  invented: true,
  read_only: false,
  blind: true,
  locked: false,
  position: 100,
  etag: 'e1',
  now_ms: Date.now(),
  role: 'operator',
  device: 'deck-7c1e',
  spec: {
    format: 1,
    responses: [
      { word: '', label: 'No turn', turned: 'no', bit: 'no', electrode: false },
      { word: '', label: 'Turn', turned: 'yes', bit: 'no', electrode: false },
      { word: '', label: 'Bite', turned: 'yes', bit: 'yes', electrode: true },
      { word: 'avoidance', label: 'Avoidance', turned: 'yes', bit: 'no', electrode: false },
      { word: 'overshoot', label: 'Overshoot', turned: 'yes', bit: 'no', electrode: false },
      { word: 'bite at the odour', label: 'Bite at the odour', turned: 'no', bit: '', electrode: false },
      { word: 'unscorable', label: 'Unscorable', turned: '', bit: '', electrode: false },
    ],
    heights: [
      { word: 'on the bottom', low_cm: 0, high_cm: 5 },
      { word: 'low', low_cm: 5, high_cm: 20 },
      { word: 'high', low_cm: 20, high_cm: 60 },
    ],
    checks: [
      { word: 'electrodes', label: 'Electrodes free of sand and bubbles' },
      { word: 'plate', label: 'Plate level' },
      { word: 'silent', label: 'Silent pair reads zero' },
    ],
    trial_min: 30,
    washout_min: 10,
  },
  spec_written: true,
  pairs: ['A', 'B', 'C', 'D'].map((label, i) => ({ label, x_m: i, y_m: 0, azimuth_deg: 0 })),
  species: [
    { name: 'Scyliorhinus canicula', aliases: ['S. canicula', 'small-spotted catshark'] },
    { name: 'Raja clavata', aliases: ['R. clavata', 'thornback ray'] },
  ],
  individuals: [
    {
      id: 'Blotch',
      species: 'Raja clavata',
      sex: 'female',
      mark: 'pale blotch on the left wing',
      pictures: [] as string[],
      passes: 12,
      last_trial: 'T001',
    },
    {
      id: 'Notch',
      species: 'Raja clavata',
      sex: 'male',
      mark: 'notch in the tail',
      pictures: [] as string[],
      passes: 4,
      last_trial: 'T001',
    },
    {
      id: 'Freckle',
      species: 'Scyliorhinus canicula',
      sex: '',
      mark: 'three dark spots behind the eye',
      pictures: [] as string[],
      passes: 7,
      last_trial: 'T001',
    },
  ],
  trials: ['T001', 'T002', 'T003', 'T004', 'T005'].map((trial, i) => ({
    trial,
    planned: true,
    spare: i === 4,
    fields: (i === 0 ? { start: '2025-06-13T10:00:00+01:00', end: '2025-06-13T10:30:00+01:00' } : {}) as Record<
      string,
      string
    >,
    passes: i === 0 ? 23 : 0,
  })),
  permits: [
    {
      id: 'P1',
      what: 'Work with elasmobranchs',
      number: 'X-12 (invented)',
      valid_from: '2031-01-01',
      valid_to: '2031-12-31',
      animals: 38,
      animals_most: 40,
      hours: 11.5,
      hours_most: 12,
    },
  ],
  people: [
    { name: 'Maeve Kinsella', mark: 'person:' + 'ab'.repeat(32) },
    { name: 'Tom Ashby', mark: 'person:' + 'cd'.repeat(32) },
  ],
  cautions: 0,
});
