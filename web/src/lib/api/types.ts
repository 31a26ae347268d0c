// Short names for the shapes that the program serves.
import type { components } from './schema';

type Schemas = components['schemas'];

export type Season = Schemas['SeasonView'];
export type Pair = Schemas['PairView'];
export type Enclosure = Schemas['EnclosureView'];
export type Plate = Schemas['PlateView'];
export type Trial = Schemas['TrialView'];
export type Fault = Schemas['FaultView'];
export type FaultRows = Schemas['FaultRows'];
export type Progress = Schemas['ProgressView'];
export type Exposures = Schemas['ExposuresView'];
export type ExposureRow = Schemas['ExposureRow'];
export type Pass = Schemas['PassView'];
export type TrackPoint = Schemas['TrackPoint'];
export type Findings = Schemas['Findings'];
export type Detection = Schemas['Detection'];
export type Thresholds = Schemas['Thresholds'];
export type Descriptive = Schemas['Descriptive'];
export type Preference = Schemas['Preference'];
export type Individual = Schemas['Individual'];
export type Uncertainty = Schemas['Uncertainty'];
export type UncertainMedians = Schemas['UncertainMedians'];
export type UncertaintyView = Schemas['UncertaintyView'];
export type Curves = Schemas['CurvesView'];
export type SpeciesCurves = Schemas['SpeciesCurves'];
export type StepRow = Schemas['StepRow'];
export type Program = Schemas['Program'];
export type Home = Schemas['HomeView'];
export type StudyCard = Schemas['StudyCard'];
export type Step = Schemas['StepView'];
export type NewStudyRequest = Schemas['NewStudyRequest'];
export type ImportRequest = Schemas['ImportRequest'];
export type ImportDone = Schemas['ImportDone'];
export type Plan = Schemas['PlanView'];
export type PlanTable = Schemas['PlanTable'];
export type PlanChange = Schemas['PlanChange'];
export type Results = Schemas['ResultsView'];
export type OpeningRequest = Schemas['OpeningRequest'];
export type EditDone = Schemas['EditDone'];

/** An interval as the program writes it: two ends (null = unbounded) or why there is none. */
export type WrittenSpan = (number | null)[] | { not_estimable: string };

/** An interval as the app uses it. */
export type Span = { low: number | null; high: number | null } | { why: string };

/** readSpan gives an absent interval the reason "absent". */
export function readSpan(written: WrittenSpan | undefined, absent = ''): Span {
  if (written === undefined) return { why: absent };
  if (!Array.isArray(written)) return { why: written.not_estimable };
  return { low: written[0] ?? null, high: written[1] ?? null };
}
export type Deck = Schemas['DeckView'];
export type DeckSpec = Schemas['Spec'];
export type DeckResponse = Schemas['Response'];
export type DeckHeight = Schemas['Height'];
export type DeckBatch = Schemas['DeckBatch'];
export type DeckAnswer = Schemas['DeckAnswer'];
export type DeckLog = Schemas['DeckLogView'];
export type DeckDevice = Schemas['DeckDevice'];
export type DeckSame = Schemas['DeckSame'];
export type DeckPass = Schemas['DeckPass'];
export type DeckEvent = Schemas['DeckEvent'];
export type DeckCheck = Schemas['DeckCheck'];
export type DeckReading = Schemas['DeckReading'];
export type DeckCount = Schemas['DeckCount'];
export type DeckAttachment = Schemas['DeckAttachment'];
export type DeckIndividual = Schemas['DeckIndividual'];
export type DeckTrial = Schemas['DeckTrial'];
export type DeckPair = Schemas['DeckPair'];
export type DeckSpecies = Schemas['DeckSpecies'];
export type DeckPermit = Schemas['DeckPermit'];
export type DeckPerson = Schemas['DeckPerson'];
export type DeckImported = Schemas['DeckImported'];
export type Tablets = Schemas['TabletsView'];
export type Tablet = Schemas['TabletView'];
export type TabletSelf = Schemas['TabletSelf'];
export type TabletStudy = Schemas['TabletStudy'];
export type PairingCode = Schemas['PairingCode'];
