// Invented studies that remember what is done to them while the development
// server runs.
import { readFileSync } from 'node:fs';

type Json = Record<string, unknown>;
interface Card extends Json {
  study: string;
  title: string;
  blind: boolean;
}

const fixture = <T>(name: string): T =>
  JSON.parse(readFileSync(new URL(`../fixtures/${name}`, import.meta.url), 'utf8')) as T;

const home = fixture<Json & { studies: Card[] }>('home.json');
const results = fixture<Record<string, Json>>('results.json');
/** How often a running analysis is asked for before it is done. */
const runs = 8;
const running: Record<string, number> = {};

export interface Refusal {
  status: number;
  detail: string;
}
export const refuse = (status: number, detail: string): Refusal => ({ status, detail });
export const refused = (answer: unknown): answer is Refusal =>
  typeof answer === 'object' && answer !== null && 'status' in answer && 'detail' in answer;

export const askHome = (): unknown => home;

export function create(body: Json): unknown {
  const study = String(body.study);
  if (/[/\\:*?"<>|]/.test(study))
    return refuse(422, `this name cannot be used: ${study}; a name has letters, digits, spaces, - and _`);
  home.studies.push({
    ...home.studies[2]!,
    study,
    title: String(body.title),
    read_only: false,
    notes: [],
    changed: new Date().toISOString(),
  });
  return { study, entries: 1 };
}

/** plan is of what the files hold: the misspelt trial of a faulty season, or a season. */
export function plan(body: Json): unknown {
  const plans = fixture<Record<string, Json>>('plans.json');
  const files = body.files as { name: string; data: string }[];
  const texts = files.map((f) => Buffer.from(f.data, 'base64').toString());
  if (texts.some((t) => t.includes('T0O1'))) return plans.faulty;
  if (!body.study) return plans.new;
  return { ...(body.study === 'tank-2' ? plans.same : plans.changed), study: body.study };
}

export function carryOut(body: Json): unknown {
  const study = String(body.study);
  if (home.studies.some((s) => s.study === study)) return { study, entries: 9 };
  home.studies.push({ ...home.studies[0]!, study, blind: body.blind === true });
  results[study] = { ...results['tank-2'], blind: body.blind === true };
  return { study, entries: 277 };
}

export function resultsOf(study: string): unknown {
  const now = results[study];
  if (!now) return refuse(404, `there is no study ${study}`);
  const left = running[study];
  if (left === undefined) return now;
  if (left > 0) {
    running[study] = left - 1;
    const progress = { state: 'running', stage: 'Exposures', done: (runs - left) * 15, total: runs * 15 };
    return { ...now, state: 'running', progress };
  }
  delete running[study];
  results[study] = { ...now, state: 'current', shown: now.data, since: 0, computed: new Date().toISOString() };
  return results[study];
}

export function analyse(study: string): unknown {
  running[study] = runs;
  return resultsOf(study);
}

export function open(study: string, body: Json): unknown {
  if (!body.author || !body.reason) return refuse(422, 'a name and a reason are needed');
  const card = home.studies.find((s) => s.study === study);
  if (!card || !results[study]) return refuse(404, `there is no study ${study}`);
  card.blind = false;
  results[study] = { ...results[study], blind: false, state: 'out_of_date', data: 'f3'.repeat(32), since: 1 };
  return { entries: [] };
}
