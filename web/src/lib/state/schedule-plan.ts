// Faults of a plan by their field, and what was drawn as pictures need it.
import type { RequestError } from '$lib/api/client';
import type { Schedule, ScheduleDocument, ScheduledTrial, SchedulePlan, ScheduleTrial } from '$lib/api/schedule';

/** Sentences of the program about a plan that name no place, by the field that they are about. */
const about: [RegExp, keyof SchedulePlan | 'per_day'][] = [
  [/cannot be drawn with at most|^at most -?\d+ alike/, 'most_alike'],
  [/^-?\d+ pairs;|^pair "/, 'pairs'],
  [/^-?\d+ currents;|^a current of|^the current /, 'currents_uA'],
  [/^-?\d+ silent trials/, 'silent'],
  [/^-?\d+ sham trials/, 'sham'],
  [/^-?\d+ odour-off trials|trials without odour/, 'odour_off'],
  [/^-?\d+ spare trials/, 'spare'],
  [/^-?\d+ trials[;,]/, 'trials'],
  [/^each pair /, 'repeats'],
];

export interface PlanFaults {
  faults: Map<string, string>;
  rest: string[];
}
export const noFaults: PlanFaults = { faults: new Map(), rest: [] };

/** planFaults parts the sentences of a refused plan: those about a field, and the rest. */
export function planFaults(problem: Pick<RequestError, 'message' | 'details'>): PlanFaults {
  const faults = new Map<string, string>();
  const rest: string[] = [];
  const place = (field: string | undefined, sentence: string) => {
    if (field) faults.set(field, [faults.get(field), sentence].filter(Boolean).join(' '));
    else if (sentence) rest.push(sentence);
  };
  for (const { location, message } of problem.details) {
    const field = /(?:^|[./])plan[./](\w+)/.exec(location)?.[1] ?? /(?:^|[./])(per_day)$/.exec(location)?.[1];
    place(field ?? fieldOf(bare(message)), bare(message));
  }
  if (problem.details.length === 0) {
    for (const line of problem.message.split('\n')) place(fieldOf(bare(line)), bare(line));
  }
  return { faults, rest };
}

const bare = (sentence: string): string => sentence.replace(/^schedule: /, '').trim();
const fieldOf = (sentence: string): string | undefined => about.find(([words]) => words.test(sentence))?.[1];

/** Drawn is one trial as it is drawn in a picture. */
export interface Drawn {
  trial: string;
  /** active, silent or sham; sealed where it is not opened, blank where nothing is recorded. */
  kind: string;
  pair: string;
  /** With its sign; null where it is sealed. */
  currentUA: number | null;
  odour: boolean;
}

/** DrawnSchedule is what the picture of a schedule shows. */
export interface DrawnSchedule {
  /** An example must say so, wherever it is shown. */
  example: boolean;
  pairs: readonly string[];
  currentsUA: readonly number[];
  drawPolarity: boolean;
  perDay: number;
  block: number;
  trials: Drawn[];
  spare: Drawn[];
}

const kindOf = (t: { kind?: string; active_pair?: string; opened?: boolean }): string => {
  if (t.kind) return t.kind;
  // A season says which pair was live, not what kind of trial it was.
  if (t.active_pair) return t.active_pair === 'none' ? 'silent' : 'active';
  return t.opened ? 'blank' : 'sealed';
};

const drawn = (t: ScheduledTrial | ScheduleTrial): Drawn => ({
  trial: t.trial,
  kind: kindOf(t),
  pair: kindOf(t) === 'active' ? (t.active_pair ?? '') : '',
  currentUA: t.current_uA ?? null,
  odour: t.odour ?? true,
});

export const exampleDrawn = (doc: ScheduleDocument, perDay: number): DrawnSchedule => ({
  ...ofPlan(doc.plan),
  example: true,
  perDay,
  block: doc.rule.block,
  trials: doc.trials.map(drawn),
  spare: doc.spare.map(drawn),
});

/** viewDrawn is what is opened of the schedule in force, or of a season in plain sight; undefined where nothing is. */
export function viewDrawn(view: Schedule): DrawnSchedule | undefined {
  const seal = view.seals.find((s) => s.in_force);
  if (!view.trials.some((t) => t.kind || (!seal && t.active_pair))) return undefined;
  const plan: SchedulePlan = seal?.plan ?? { ...view.start, pairs: view.pairs };
  return {
    ...ofPlan(plan),
    example: false,
    perDay: seal?.per_day ?? 0,
    block: seal?.rule.block ?? 0,
    // Trials that the season holds beside the schedule come last.
    trials: view.trials
      .filter((t) => !t.spare)
      .slice(0, seal?.plan.trials)
      .map(drawn),
    spare: view.trials.filter((t) => t.spare).map(drawn),
  };
}

const ofPlan = (plan: SchedulePlan) => ({
  pairs: plan.pairs,
  currentsUA: plan.currents_uA,
  drawPolarity: plan.draw_polarity,
});
