export const schedule = {
  title: 'Schedule',
  lead: 'Which pair is live in which trial: drawn by chance, sealed before the season, and provable after it.',
  parts: 'Parts of the schedule',
  names: {
    plan: 'Plan',
    seal: 'Seal',
    cards: 'Cards',
    blinding: 'Blinding',
    preregistration: 'Preregistration',
  },
  warnings: 'To bear in mind',
  readOnly: 'This study is shown read-only: a plan can be tried here, and nothing is kept.',
  reading: 'Reading the schedule …',
  standing: {
    none: 'No schedule is sealed.',
    sealed: (trials: number, when: string) => `Sealed on ${when}, ${trials} trials. Nobody can see what was drawn.`,
    part: (opened: number, of: number) => `${opened} of ${of} trials are opened.`,
    opened: 'Opened: what was drawn is shown.',
  },
};
