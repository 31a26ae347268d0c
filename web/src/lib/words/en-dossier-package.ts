import type { FormFault } from '$lib/state/dossier-spec';
import { clock, plural, sig, whole } from './numbers';

/** The part Package of the page Dossier: words and rights, and the packages that were made. */
export const dossierPackage = {
  words: {
    title: 'In your words',
    lead: 'What no measurement can say. A field that is blank is printed as not recorded.',
    fields: {
      title: 'Title',
      abstract: 'Abstract',
      keywords: 'Keywords',
      ethics: 'Ethical statement',
      sample_size: 'How the sample size was decided',
      housing: 'How animals were kept',
      funding: 'Funding',
      interests: 'Competing interests',
      doi: 'DOI',
    },
    hints: {
      title: 'Blank: the title of the study.',
      abstract: '',
      keywords: 'Parted by commas.',
      ethics: 'Who approved it, under which number, and what was done for the animals.',
      sample_size: 'Why so many trials and animals, and no more.',
      housing: 'Blank where all animals were free.',
      funding: '',
      interests: 'Say so too if there are none.',
      doi: 'Where an archive has reserved one for this package: 10.…/…',
    },
  },
  authors: {
    title: 'Authors',
    lead: 'In the order in which they are named. Contributors are thanked; contacts answer questions.',
    none: 'Nobody is named yet. An archive takes no package without an author.',
    one: (n: number, name: string) => (name ? `Person ${n}, ${name}` : `Person ${n}`),
    given: 'Given names',
    family: 'Family name',
    orcid: 'ORCID iD',
    affiliation: 'Affiliation',
    email: 'E-mail',
    role: 'Role',
    roles: { author: 'Author', contributor: 'Contributor', contact: 'Contact' },
    add: 'Add a person',
    up: (who: string) => `Move up: ${who}`,
    down: (who: string) => `Move down: ${who}`,
    remove: (who: string) => `Remove: ${who}`,
    moved: (who: string, n: number, of: number) => `${who} is now ${n} of ${of}.`,
    removed: (who: string) => `${who} was removed.`,
  },
  licence: {
    title: 'Licence',
    none: { name: 'None yet', what: 'Nobody may use it again without asking you, and the package says so.' },
    of: {
      'CC-BY-4.0': {
        name: 'CC BY 4.0',
        what: 'Anybody may use and change it, for any purpose, and has to name you.',
      },
      'CC0-1.0': {
        name: 'CC0 1.0',
        what: 'You give up your rights: anybody may use it for anything. To name you is good practice, not a duty.',
      },
      'CC-BY-NC-4.0': {
        name: 'CC BY-NC 4.0',
        what: 'As CC BY, but not for commercial purposes. Ask your archive whether it takes this one.',
      },
      'ODC-By-1.0': {
        name: 'ODC-By 1.0',
        what: 'For databases: anybody may use the data and has to name where they come from.',
      },
    } as Record<string, { name: string; what: string }>,
    other: (id: string) => ({ name: id, what: 'As the study has it.' }),
  },
  privacy: {
    title: 'People and place',
    lead: 'What the package gives away. The study itself stays as it is.',
    names: 'Names',
    authorsOnly: (n: number) =>
      n === 0
        ? 'Authors alone are named. Nobody else is named in the records.'
        : `Authors alone are named. ${n === 1 ? 'One more person' : `${whole(n)} more people`} who scored or observed ${n === 1 ? 'becomes' : 'become'} Person 1${n === 1 ? '' : `, Person 2${n === 2 ? '' : ', …'}`}`,
    all: 'All who scored and observed are named. Ask them first.',
    notes: (n: number) =>
      n === 0
        ? 'Leave free text out (none is written)'
        : `Leave free text out (${plural(n, 'note', 'notes')} of trials and passes)`,
    notesWhy: 'People write names and places into notes. Names that are known are replaced in them too.',
    coarsen: 'Coordinates',
    asRecorded: 'As recorded',
    square: (km: number) => `Square of ${sig(km, 3).replace(/\.?0+$/, '')} km`,
    coarsenWhy: (km: number, within: string) =>
      km === 0
        ? 'The package says where the site is, as it is written on Question.'
        : `The package gives the middle of a square of ${km} km: the site lies within ${within} km of it, and that uncertainty is stated. For protected sites, ask whoever gave the permit.`,
    placeName: 'Name of the site in the package',
    ownName: 'its own name',
    placeNameHint: 'Blank: its own name. Coarse coordinates are of little use beside the name of a small bay.',
    photos: 'Take the photos in',
    photosWhy:
      'Place, time and camera are stripped out of the files. What can be seen in them stays: faces, coastlines.',
  },
  faults: {
    orcid: 'This is no ORCID iD: expected 16 figures of which the last fits the others, such as 0000-0002-1825-0097.',
    email: 'This is no e-mail address: expected name@place.org.',
    doi: 'This is no DOI: expected 10., a number, / and more, such as 10.1234/abcd.5678.',
    nameless: 'Expected a family name, or the whole name where there is only one.',
    keywords: 'Expected at most 50 keywords.',
  } satisfies Record<FormFault, string>,
  save: {
    save: 'Save',
    saving: 'Saving',
    saved: 'Saved',
    unsaved: 'Changed, not saved yet.',
    asSaved: 'As saved.',
    faults: (n: number) => `Not saved: ${plural(n, 'field needs', 'fields need')} another look.`,
    refused: 'Not saved:',
    changed: 'Somebody else saved other words meanwhile. Yours are still on this page.',
    mine: 'Save mine over them',
    theirs: 'Take theirs',
    failed: 'Not saved.',
  },
  make: {
    title: 'Make the dossier',
    make: 'Make the dossier',
    saveAndMake: 'Save and make the dossier',
    again: 'When it is made, work it out again from its own raw tables and say whether it came out the same',
    stop: 'Stop',
    dismiss: 'Dismiss',
    broke: 'The dossier was not made:',
    done: (name: string) => `${name} is made.`,
    browser: (name: string) => `The report is printed by ${name}.`,
    plain: 'No browser for printing was found on this computer: the report is set by the program itself, plainer.',
    stages: {
      Reading: 'Reading the study',
      Fields: 'Electric field of every trial',
      Exposures: 'Field along every track',
      Estimates: 'Thresholds and preference',
      Maps: 'Field round a pair, and how far it reaches',
      Data: 'Tables and data files',
      Figures: 'Figures',
      Report: 'Report and texts',
      Writing: 'Writing the package',
      'Working it out again': 'Working it out again from its raw tables',
    } as Record<string, string>,
  },
  made: {
    title: 'Made',
    none: 'None was made yet. They are kept beside the study, and are not part of its backups.',
    facts: (made: string, bytes: string, files: number) =>
      [made && clock(made).slice(0, 16), bytes, files > 0 ? plural(files, 'file', 'files') : '']
        .filter(Boolean)
        .join(', '),
    unreadable: 'It cannot be read:',
    fingerprint: 'SHA-256',
    zip: 'Save the package',
    zipOf: (name: string) => `Save the package: ${name}`,
    kinds: {
      pdfShow: 'Read the report (PDF)',
      pdf: 'Report, PDF',
      html: 'Report, HTML',
      docx: 'Methods and results, Word',
      md: 'Methods and results, Markdown',
      dwc: 'Darwin Core Archive',
    },
    kindOf: (kind: string, name: string) => `${kind}, of ${name}`,
    newTab: 'opens in a new tab',
    check: 'Check it',
    checkOf: (name: string) => `Check it: ${name}`,
    again: 'Check it and work it out again',
    againOf: (name: string) => `Check it and work it out again: ${name}`,
    checking: 'Checking …',
    workingAgain: 'Checking, and working every number out again …',
    remove: 'Remove',
    removeOf: (name: string) => `Remove: ${name}`,
    removeTitle: 'Remove this package?',
    removeWhy: (name: string) =>
      `${name} is taken away from this computer. What was handed over of it can then be checked, but not be saved again from here. The study stays as it is.`,
    removeYes: 'Remove it',
    removeNo: 'Keep it',
  },
};
