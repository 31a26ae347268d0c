// What the part Blinding says of a schedule, worked out from its view.
import type { Guess, GuessTest, Schedule, Seal } from '$lib/api/schedule';
import type { Cell } from '$lib/draw/picture';
import { words } from '$lib/words';

const w = words.blinding;

/** Trials as people write them: T001, T003–T007; no trials stand for all. */
export function trialsText(trials: readonly string[]): string {
  if (trials.length === 0) return w.all;
  const parts: { first: string; last: string }[] = [];
  for (const trial of trials) {
    const run = parts.at(-1);
    if (run && follows(run.last, trial)) run.last = trial;
    else parts.push({ first: trial, last: trial });
  }
  return parts
    .map(({ first, last }) =>
      first === last ? first : follows(first, last) ? `${first}, ${last}` : `${first}–${last}`,
    )
    .join(', ');
}

/** follows is true of T009 and T010: the same letters and as many figures, one further on. */
function follows(a: string, b: string): boolean {
  const [x, y] = [/^(.*?)(\d+)$/.exec(a), /^(.*?)(\d+)$/.exec(b)];
  return !!x && !!y && x[1] === y[1] && x[2]!.length === y[2]!.length && Number(y[2]) === Number(x[2]) + 1;
}

export const sealInForce = (view: Pick<Schedule, 'seals'>): Seal | undefined => view.seals.find((s) => s.in_force);

/** Whether something is still sealed that an opening would open. */
export const stillSealed = (view: Pick<Schedule, 'seals' | 'trials' | 'blind'>): boolean =>
  view.blind || (sealInForce(view) !== undefined && view.trials.some((t) => !t.opened));

export interface BlindingStep {
  key: 'sealed' | 'rehearsed' | 'run' | 'scored' | 'locked' | 'opened';
  title: string;
  state: 'done' | 'partly' | 'open';
  /** When and who, and how far. */
  said: string[];
}

/** stepsOf goes from the seal to the opening, in the order of the work. */
export function stepsOf(view: Schedule): BlindingStep[] {
  const seal = sealInForce(view);
  const planned = view.trials.filter((t) => !t.spare);
  const run = view.trials.filter((t) => t.run);
  const plannedRun = planned.filter((t) => t.run).length;
  const whole = view.openings.find((o) => o.trials.length === 0);
  const allOpen = !stillSealed(view);
  const some = view.trials.filter((t) => t.opened);
  const step = (key: BlindingStep['key'], state: BlindingStep['state'], ...said: string[]): BlindingStep => ({
    key,
    title: w.steps[key],
    state,
    said: said.filter(Boolean),
  });
  const steps: BlindingStep[] = [];
  if (seal) {
    const seen = seal.keys.filter((k) => k.rehearsed);
    const last = seen.map((k) => k.rehearsed!).sort((a, b) => (a.when < b.when ? 1 : -1))[0];
    steps.push(step('sealed', 'done', w.at(seal.written.when, seal.written.by)));
    steps.push(
      step(
        'rehearsed',
        seen.length === 0 ? 'open' : seen.length < seal.keys.length ? 'partly' : 'done',
        w.steps.keys(seen.length, seal.keys.length),
        last ? w.at(last.when, last.by) : '',
      ),
    );
  } else {
    steps.push(step('sealed', view.blind ? 'done' : 'open', view.blind ? w.steps.import : w.steps.plain));
  }
  const counted = seal ? w.steps.trials(plannedRun, planned.length) : w.steps.trials(run.length, 0);
  steps.push(step('run', run.length === 0 ? 'open' : seal && plannedRun < planned.length ? 'partly' : 'done', counted));
  const anything = run.some((t) => t.passes > 0);
  steps.push(
    step(
      'scored',
      !anything ? 'open' : view.unscored > 0 ? 'partly' : 'done',
      anything || view.unscored > 0 ? w.steps.unscored(view.unscored) : '',
    ),
  );
  steps.push(
    step(
      'locked',
      view.lock ? 'done' : 'open',
      view.lock ? w.at(view.lock.when, view.lock.by) : '',
      view.lock?.reason ?? '',
    ),
  );
  const opening = whole ?? view.openings.at(-1);
  const opened = view.openings.length === 0 ? 'open' : allOpen ? 'done' : 'partly';
  steps.push(
    step(
      'opened',
      opened,
      opening ? w.at(opening.opened.when, opening.opened.by) : '',
      opened === 'partly' && some.length > 0 ? w.steps.someOpened(trialsText(some.map((t) => t.trial))) : '',
    ),
  );
  return steps;
}

/** guessOf is the guess of one scorer in one trial, the last where there are several. */
export const guessOf = (guesses: readonly Guess[], by: string, trial: string): Guess | undefined =>
  guesses.findLast((g) => g.by === by && g.trial === trial);

/** named are the guesses that named something. */
export const named = (t: GuessTest): number => t.guesses - t.unknown;

export function afterRows(view: Pick<Schedule, 'after_opening'>): { columns: string[]; rows: Cell[][] } {
  const columns = ['kind', 'id', 'trial', 'field', 'from', 'to', 'when', 'by', 'reason', 'entry'] as const;
  return { columns: [...columns], rows: view.after_opening.map((a) => columns.map((c) => a[c])) };
}

export function openedRows(view: Pick<Schedule, 'trials'>): { columns: string[]; rows: Cell[][] } {
  return {
    columns: ['trial', 'spare', 'block', 'run', 'kind', 'active_pair', 'current_uA', 'odour', 'recorded'],
    rows: view.trials
      .filter((t) => t.opened)
      .map((t) => [t.trial, t.spare, t.block, t.run, t.kind, t.active_pair, t.current_uA, t.odour, t.recorded]),
  };
}

/** How many values were scored or changed after the opening, those that are not listed among them. */
export const afterCount = (view: Pick<Schedule, 'after_opening' | 'more_after_opening'>): number =>
  view.after_opening.length + view.more_after_opening;
