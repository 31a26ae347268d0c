/** The frame round every page. */
export const header = {
  home: 'Home',
  toHome: 'to all studies',
  sections: {
    question: 'Question',
    water: 'Water',
    stimulus: 'Stimulus',
    rig: 'Rig',
    background: 'Background',
    schedule: 'Schedule',
    deck: 'Deck',
    footage: 'Footage',
    exposures: 'Exposures',
    findings: 'Findings',
    dossier: 'Dossier',
    tables: 'Tables',
  },
  readOnly: 'Read only',
  readOnlyWhy: 'Nothing can be changed here at the moment.',
  seasonWhy:
    'This is a season folder, shown as it is. To change it here, start Brinefield without naming a folder and import it into a study.',
  sealed: 'Active pairs sealed',
  sealedWhy:
    'Which pair was active in each trial is kept apart and shown to nobody until somebody opens it, with a name and a reason.',
  invented: 'Invented data',
  inventedWhy: 'This was made up to show the program. No animal was tested.',
  writer: {
    as: (name: string) => `Writing as ${name}`,
    nobody: 'Who is writing?',
    title: 'Who is writing?',
    why: 'The name stands beside every change that you make in this browser. Names are kept so that they can be erased from a study later; the entries stay.',
    name: 'Your name',
    keep: 'Keep this name',
    none: 'Write without a name',
    cancel: 'Cancel',
  },
  close: 'Close',
};
