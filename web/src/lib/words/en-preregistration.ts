import type { Section } from '$lib/state/address';

/** Where what is missing is written. */
interface Lack {
  say: string;
  section: Section;
  part?: string;
  /** What the link to it says. */
  to: string;
}
const onQuestion = (say: string): Lack => ({ say, section: 'question', to: 'Write it on Question' });
const inTable = (say: string, part: string): Lack => ({ say, section: 'tables', part, to: 'Write it in Tables' });

export const preregistration = {
  title: 'What is planned, as one dated document',
  lead: 'It is made of what the study says: write it there, read it here, and register it before the first trial. The journal dates it, and it stays. Names of people are left out, so that they can be erased.',
  reading: 'Reading the document …',
  missing: {
    title: 'What a reader would miss',
    none: 'Nothing is missing.',
    lacks: {
      title: onQuestion('A title.'),
      question: onQuestion('The question.'),
      site: onQuestion('Where it is done.'),
      hypotheses: onQuestion('What is expected, and the smallest effect that matters.'),
      method: onQuestion('How a trial goes.'),
      criteria: onQuestion('Which animals, passes and trials count.'),
      stopping_rule: onQuestion('When it ends.'),
      analysis_plan: onQuestion('How the question will be answered from the data.'),
      species: inTable('The species.', 'species'),
      analysis: inTable('The settings of the analysis.', 'analysis'),
      uncertainty: inTable('How well the inputs are known.', 'uncertainty'),
      seal: { say: 'A sealed schedule.', section: 'schedule', part: 'seal', to: 'Seal one' },
    } as Record<string, Lack>,
  },
  register: {
    title: 'Register this document',
    open: 'Register',
    why: 'It is written into the journal as it stands, with the time and your name. It cannot be taken back or edited; a later one can be registered beside it.',
    late: 'The first trial has begun already: it will say so.',
    incomplete: (n: number) => (n === 1 ? 'One thing is missing in it.' : `${n} things are missing in it.`),
    name: 'Your name',
    nameMissing: 'Somebody must stand for it.',
    do: 'Register it',
    cancel: 'Cancel',
    busy: 'Registering …',
    done: 'Registered.',
    same: 'This is what was registered last.',
    readOnly: 'This study is shown read-only: nothing can be registered here.',
    changed:
      'It was not registered: somebody changed the study while you were reading. What is shown now is new; read it again.',
    refused: 'It was not registered.',
    failed: 'It was not registered.',
    again: 'Read the document',
  },
  registered: {
    title: 'Registered',
    none: 'Nothing is registered yet.',
    one: (id: string) => id.charAt(0).toUpperCase() + id.slice(1),
    on: (when: string, by: string) => (by ? `${when}, by ${by}` : when),
    late: 'Late: the first trial had begun before.',
    inTime: 'Before the first trial.',
    read: (id: string) => `Read ${id}`,
    readShort: 'Read',
    shown: (id: string, when: string) => `This is ${id}, as it was registered on ${when}.`,
    back: 'Show it as it stands now',
  },
  changes: {
    title: (id: string) => `What changed since ${id}`,
    say: (id: string) =>
      `The study says something else now than ${id}. Register it again if the plan has changed; what was registered stays.`,
    gone: 'Gone:',
    new: 'New:',
    skipped: 'lines that are the same',
  },
  document: {
    title: 'The document',
    now: 'As it would be registered now',
    save: 'Save as .md',
    print: 'Print',
    file: (study: string) => `${study} preregistration`,
  },
};
