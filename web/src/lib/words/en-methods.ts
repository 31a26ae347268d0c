// How each number was computed: what it says, the formula, what stands behind
// it. Sources are named by journal or book; "from memory" where the page was
// not before us when this was written.

export interface Method {
  title: string;
  formula: string[];
  what: string[];
  source: string[];
}

const sandwich =
  'Bell and McCaffrey, Survey Methodology 28, 169, 2002 (from memory): cluster sandwich with leave-one-cluster correction (CR3), t with one degree of freedom fewer than there are clusters.';

const detection: Method = {
  title: 'Detection model',
  formula: [
    '*S*(*x*) = lapse + (1 − lapse) · (1 − *F*(*x*)),  *F* lognormal(*μ*, *σ*) in nV/cm,  median = e^{μ}',
    'no turn:  e^{−hW} · *S*(low)',
    'onset between *t*_{0} and *t*_{1}:  e^{−h t₀} · *S*(low) − e^{−h t₁} · *S*(max(low, high))',
    'turned, no onset recorded:  1 − e^{−hW} · *S*(high)',
  ],
  what: [
    'Maximum likelihood over all passes of the species, those of silent trials too. A pass is answered when the field first exceeds its threshold, unless it lapses; *h* is the rate of spontaneous turns per second and *W* the time watched.',
    'The median is that of the thresholds: lapses and spontaneous turns are taken out of it.',
    'The interval is on *μ*, from the cluster sandwich. A cluster is an animal, or the unidentified passes of one trial and species.',
  ],
  source: [
    'Interval-censored maximum likelihood: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, 2nd ed., Wiley, 2002 (from memory).',
    sandwich,
  ],
};

const lognormal: Method = {
  title: 'Lognormal',
  formula: ['log-likelihood = Σ ln( *F*(high) − *F*(low) ),  *F*(*x*) = Φ( (ln *x* − *μ*)/*σ* ),  median = e^{μ}'],
  what: [
    'Maximum likelihood over passes at the active pair. A turn has its threshold between low and high; without a turn, or in a falling field, it lies above low.',
    'The interval is on *μ*, from the cluster sandwich.',
  ],
  source: [
    'Interval-censored maximum likelihood: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, 2nd ed., Wiley, 2002 (from memory).',
    sandwich,
  ],
};

const lognormalIndividual: Method = {
  title: 'Lognormal with individuals',
  formula: [
    'ln threshold = *μ* + *u*_{animal} + *e*,  *u* ~ N(0, *σ*²_{individual}),  *e* ~ N(0, *σ*²_{within})',
    'log-likelihood = Σ_{animals} ln ∫ Π ( *F*(high | *u*) − *F*(low | *u*) ) d*u*',
  ],
  what: [
    'Maximum likelihood over passes at the active pair; the integral over animals by adaptive Gauss–Hermite quadrature.',
    'The interval is on *μ*, by Wald.',
  ],
  source: ['Adaptive quadrature: Pinheiro and Bates, J. Comput. Graph. Stat. 4, 12, 1995 (from memory).'],
};

const steps: Method = {
  title: 'Step curve',
  formula: ['maximise Σ ln Σ_{j} *p*_{j} · [ interval *j* lies within (low, high] ],  Σ *p*_{j} = 1'],
  what: [
    'The distribution of thresholds that makes the observed intervals likeliest, with no form taken for granted. It says how much it climbs within an interval, not where: shaded boxes show that.',
    'The maximum is checked by the Karush–Kuhn–Tucker conditions. The median is the geometric middle of the innermost interval in which the curve passes one half.',
  ],
  source: ['Turnbull, J. R. Stat. Soc. B 38, 290, 1976 (from memory).'],
};

const descriptive: Method = {
  title: 'Median of the turns',
  formula: [
    'median and quartiles (type 7) of high, over turns with an onset at the active pair, the field not falling',
  ],
  what: [
    'What is usually published: the field at which the animals that turned did so. Passes without a turn have no part in it.',
  ],
  source: ['Quantiles of type 7: Hyndman and Fan, Am. Stat. 50, 361, 1996 (from memory).'],
};

const textbook: Method = {
  title: 'Textbook field',
  formula: ['*E* = *ρ* *I* *d* · |cos *θ*| / (π *r*³)'],
  what: [
    'The usual short form for a small dipole on an insulating bottom: *ρ* resistivity of the water, *I* the current of the trial, *d* the separation of the electrodes, *r* and *θ* the distance and the angle to the head. It leaves out the part of the field across the line to the pair, the other pairs, tank walls, the water surface and the real bottom.',
  ],
  source: ['A short form in common use; the field met is computed from the whole arrangement instead.'],
};

const mixed: Method = {
  title: 'Odds ratio with individuals',
  formula: [
    'logit P(turn) = intercept + *β* · [pair active] + *u*_{animal},  *u* ~ N(0, *σ*²_{individual})',
    'odds ratio = e^{β},  95 % interval = e^{β ± 1.96 se}',
  ],
  what: ['Maximum likelihood over passes at active and control pairs, by adaptive Gauss–Hermite quadrature.'],
  source: ['Pinheiro and Bates, J. Comput. Graph. Stat. 4, 12, 1995 (from memory).'],
};

const penalised: Method = {
  title: 'Penalised odds ratio',
  formula: ['maximise ℓ(*β*) + ½ ln det *I*(*β*)'],
  what: [
    'Where turns and no turns are separated, the odds ratio has no finite estimate. The penalty keeps it finite; individuals are left out.',
  ],
  source: ['Firth, Biometrika 80, 27, 1993; Heinze and Schemper, Stat. Med. 21, 2409, 2002 (both from memory).'],
};

const exact: Method = {
  title: 'Exact p',
  formula: ['Fisher, two-sided: passes with and without a turn, at active and at control pairs'],
  what: ['Naive: it counts passes as if each were another animal.'],
  source: ['Fisher, J. R. Stat. Soc. 85, 87, 1922 (from memory).'],
};

const randomisation: Method = {
  title: 'Randomisation p',
  formula: ['*p* = (1 + number of draws with *T*′ ≥ *T*) / (1 + *N*)'],
  what: [
    'The active pairs of all trials that were not silent are drawn again by the rule of the schedule (its blocks, and its limit on trials alike), *N* times; *T* counts turns to the active pair. It holds whatever the animals are like, because only the draw of the pairs is taken for granted.',
  ],
  source: ['Phipson and Smyth, Stat. Appl. Genet. Mol. Biol. 9, 39, 2010 (from memory).'],
};

const sensitivity: Method = {
  title: 'Median by reaction time',
  formula: ['low = largest field up to *t*_{0} − *δ*,  high = largest field within [*t*_{0} − *δ*, *t*_{1} − *δ*]'],
  what: [
    'The intervals of all passes and the detection model, repeated for reaction times *δ* of 0, 0.05, 0.1 and 0.2 s.',
  ],
  source: detection.source,
};

const individuals: Method = {
  title: 'Field by animal',
  formula: ['turned: the smallest high over its turns;  did not turn: the largest low over its passes without one'],
  what: ['Counts and extremes of what was observed at active pairs. Nothing is estimated.'],
  source: ['No source is needed: these are extremes of the table of passes.'],
};

const exposure: Method = {
  title: 'Field met',
  formula: ['low = largest field up to *t*_{0} − *δ*,  high = largest field within [*t*_{0} − *δ*, *t*_{1} − *δ*]'],
  what: [
    'The field is the magnitude of the electric field of everything driven in the trial, in the water at the head: from the currents, the conductivity of water and bottom, the surface, and walls where there are any. *t*_{1} is the onset, *t*_{0} the last row of the track before it, *δ* the reaction time.',
    'The threshold of a turn lies between low and high; without a turn it lies above the largest field met. The phantom field is that on the same track, had the pair of the pass been the active one.',
  ],
  source: [
    'Steady currents in layers, by images: Telford, Geldart and Sheriff, Applied Geophysics, 2nd ed., Cambridge University Press, 1990 (from memory).',
  ],
};

export const methods = {
  how: 'How was this computed?',
  formula: 'Formula',
  assumptions: 'Taken for granted',
  ignores: 'Leaves out',
  warnings: 'To bear in mind',
  boundary: (names: string) => `At the edge of what is possible: ${names}`,
  source: 'Source',
  made: 'Made by',
  seed: 'Seed',
  data: 'Fingerprints of the data (SHA-256)',
  parameter: { lapse: 'lapses', spontaneous_per_s: 'rate of spontaneous turns', sigma: 'sigma' } as Record<
    string,
    string
  >,
  by: {
    detection,
    lognormal,
    lognormal_individual: lognormalIndividual,
    npmle: steps,
    descriptive,
    textbook,
    mixed,
    penalised,
    exact,
    randomisation,
    sensitivity,
    individuals,
    exposure,
  },
};

export type MethodKey = keyof typeof methods.by;
