package app

// ScheduleView is what the page Schedule shows of a study: the schedule that is
// sealed, who could have known what of it, and how far it is opened. While a
// trial is sealed nothing here tells what was drawn for it.
type ScheduleView struct {
	Study     string              `json:"study"`
	ReadOnly  bool                `json:"read_only"`
	Blind     bool                `json:"blind" doc:"Which pair was active is sealed, in all trials or in some."`
	Pairs     []string            `json:"pairs" doc:"Of the season."`
	Start     SchedulePlan        `json:"start" doc:"The plan that a form begins with."`
	Seals     []SealView          `json:"seals" doc:"Oldest first; the last one is in force."`
	Trials    []ScheduleTrialView `json:"trials" doc:"Of the schedule in force, spare draws last; else of the season."`
	Lock      *StampView          `json:"lock,omitempty" doc:"Since when scoring is locked."`
	Unscored  int                 `json:"unscored" doc:"Passes that are not scored yet."`
	Openings  []OpeningView       `json:"openings" doc:"Oldest first."`
	Chance    *ScheduleChance     `json:"chance,omitempty" doc:"Once all of it is opened."`
	Balance   *ScheduleBalance    `json:"balance,omitempty" doc:"Once all of it is opened."`
	Guesses   []GuessView         `json:"guesses"`
	Guessed   []GuessTest         `json:"guessed" doc:"Whether guesses beat chance, for all scorers and each; only once all of it is opened."`
	Knowers   []KnowerView        `json:"knowers" doc:"Who could have known what, by time."`
	Warnings  []string            `json:"warnings"`
	After     []AfterOpening      `json:"after_opening" doc:"What was scored or changed after it was opened, at most a thousand."`
	MoreAfter int                 `json:"more_after_opening" doc:"How many beyond those."`
}

// StampView is when, who and why.
type StampView struct {
	When   string `json:"when" doc:"RFC 3339, at the site."`
	By     string `json:"by"`
	Reason string `json:"reason"`
}

// ScheduleTimes are how the trials of a schedule lie in time. They are public,
// and change nothing of the draw.
type ScheduleTimes struct {
	PerDay     int     `json:"per_day,omitempty" minimum:"0" maximum:"1000" doc:"Trials of a day; absent: not stated."`
	TrialMin   float64 `json:"trial_min,omitempty" minimum:"0" maximum:"1440" doc:"How long a trial takes, in minutes."`
	WashoutMin float64 `json:"washout_min,omitempty" minimum:"0" maximum:"1440" doc:"Least time from the end of a trial to the start of the next, in minutes."`
}

// SealView is one sealed schedule that was written into the study.
type SealView struct {
	ID      string       `json:"id"`
	Written StampView    `json:"written"`
	Seal    string       `json:"seal"`
	Plan    SchedulePlan `json:"plan"`
	ScheduleTimes
	Rule      ScheduleRule  `json:"rule"`
	Keys      []SealKeyView `json:"keys" doc:"That it is sealed to."`
	InForce   bool          `json:"in_force"`
	TrialsRun int           `json:"trials_run" doc:"Of its trials and spare draws that the season holds."`
	Problem   string        `json:"problem,omitempty" doc:"Where it is not what its seal says."`
}

// SealKeyView is one public key that a schedule is sealed to.
type SealKeyView struct {
	Public    string     `json:"public"`
	Holder    string     `json:"holder" doc:"Who holds the secret key, or where it is kept."`
	Rehearsed *StampView `json:"rehearsed,omitempty" doc:"When its secret key was last seen to open the schedule."`
}

// ScheduleTrialView is one trial of the schedule. What was drawn is there only
// once the trial is opened.
type ScheduleTrialView struct {
	Trial      string   `json:"trial"`
	Spare      bool     `json:"spare"`
	Block      int      `json:"block" doc:"From 1; 0 where no schedule is sealed."`
	Run        bool     `json:"run" doc:"The season holds it."`
	Passes     int      `json:"passes"`
	Opened     bool     `json:"opened"`
	Kind       string   `json:"kind,omitempty"`
	ActivePair string   `json:"active_pair,omitempty"`
	CurrentUA  *float64 `json:"current_uA,omitempty"`
	Odour      *bool    `json:"odour,omitempty"`
	Recorded   string   `json:"recorded,omitempty" doc:"What the study holds instead, where that differs from what was drawn."`
}

// OpeningView is one opening.
type OpeningView struct {
	ID     string    `json:"id"`
	Opened StampView `json:"opened"`
	Trials []string  `json:"trials" doc:"Empty: all."`
}

// GuessView is which pair somebody who scored took for the active one.
type GuessView struct {
	ID    string `json:"id"`
	Trial string `json:"trial"`
	Pair  string `json:"pair" doc:"A label, none for a silent trial, or unknown."`
	By    string `json:"by"`
	When  string `json:"when"`
	Note  string `json:"note,omitempty"`
	Late  bool   `json:"late" doc:"Made or changed after the trial was opened: it does not count."`
}

// GuessTest compares guesses with chance.
type GuessTest struct {
	By           string   `json:"by" doc:"all, or one scorer."`
	Guesses      int      `json:"guesses"`
	Unknown      int      `json:"unknown" doc:"Of them those that named no pair."`
	Hits         int      `json:"hits"`
	Expected     *float64 `json:"expected" nullable:"true" doc:"Hits of the same guesses, on average over schedules drawn again by the rule."`
	P            *float64 `json:"p" nullable:"true" doc:"How often schedules drawn again by the rule give as many hits or more."`
	NotEstimable string   `json:"not_estimable,omitempty"`
	Warnings     []string `json:"warnings,omitempty" doc:"Why p is approximate."`
}

// KnowerView is somebody who could have known which pair was active.
type KnowerView struct {
	Who    string   `json:"who"`
	Since  string   `json:"since"`
	How    string   `json:"how" enum:"key,rehearsal,card,cards,wiring,import,opening"`
	Trials []string `json:"trials" doc:"Empty: all."`
	Scored int      `json:"scored" doc:"Passes of these trials that the same person scored."`
}

// AfterOpening is one value that was scored or changed after the active pair of
// its trial was opened.
type AfterOpening struct {
	Kind   string `json:"kind"`
	ID     string `json:"id"`
	Trial  string `json:"trial"`
	Field  string `json:"field"`
	From   string `json:"from"`
	To     string `json:"to"`
	When   string `json:"when"`
	By     string `json:"by"`
	Reason string `json:"reason"`
	Entry  string `json:"entry"`
	// Made is madeBefore where the entry came in after the opening and has an ID
	// before it; else madeAfter. Tables of exports hold it.
	Made string `json:"-"`
}

// ExampleRequest asks for an example of what a plan draws.
type ExampleRequest struct {
	Plan   SchedulePlan `json:"plan"`
	PerDay int          `json:"per_day" minimum:"0" maximum:"1000"`
	Seed   uint64       `json:"seed" doc:"Another one gives another example."`
}

// SealTo is one key to seal to.
type SealTo struct {
	Public string `json:"public"`
	Holder string `json:"holder"`
}

// SealRequest draws a schedule, seals it and writes it into the study.
type SealRequest struct {
	Plan SchedulePlan `json:"plan"`
	ScheduleTimes
	Keys   []SealTo `json:"keys"`
	Author string   `json:"author"`
	Reason string   `json:"reason" doc:"Needed where a schedule is sealed already."`
}

// TakeRequest writes a schedule into the study that was sealed elsewhere.
type TakeRequest struct {
	Document string   `json:"document" doc:"JSON of the command schedule."`
	Holders  []string `json:"holders,omitempty" doc:"Of the keys, in the order of sealed_to."`
	Author   string   `json:"author"`
	Reason   string   `json:"reason"`
	ScheduleTimes
}

// NewKeyRequest asks for a key of one's own.
type NewKeyRequest struct {
	Passphrase string `json:"passphrase" doc:"Protects the secret key; empty: it is not protected."`
}

// NewKeyView is a new key. The program keeps neither part.
type NewKeyView struct {
	Public string `json:"public"`
	Secret string `json:"secret" doc:"Text of the key's file."`
}

// KeyProof is a secret key, as the text of its file, with its passphrase.
type KeyProof struct {
	Key        string `json:"key,omitempty"`
	Passphrase string `json:"passphrase,omitempty"`
}

// RehearseRequest sees whether a key opens the schedule.
type RehearseRequest struct {
	KeyProof
	Author string `json:"author"`
}

// RehearsalView says which key opened it. Nothing of the schedule is shown.
type RehearsalView struct {
	Public string `json:"public" doc:"The key of those that it is sealed to."`
	Seal   string `json:"seal"`
}

// CardsRequest takes the cards out for one operator.
type CardsRequest struct {
	KeyProof
	Author string `json:"author" doc:"Who throws the switch."`
}

// CardsView holds no card: it is what one asks for cards with.
type CardsView struct {
	Token  string   `json:"token" doc:"Lives in this page and in the memory of the program only."`
	Trials []string `json:"trials" doc:"In the order of the schedule, spare draws last."`
	Next   string   `json:"next" doc:"The first that has not been run; empty: none is left."`
}

// CardRequest asks for one card, for all, or for the wiring.
type CardRequest struct {
	Token string `json:"token"`
	Trial string `json:"trial,omitempty"`
}

// CardView is what whoever throws the switch does in one trial.
type CardView struct {
	Trial      string  `json:"trial"`
	Position   int     `json:"position" doc:"Of the switch; 0: off."`
	Positions  int     `json:"positions" doc:"That the switch has beside off."`
	CurrentUA  float64 `json:"current_uA" doc:"Magnitude to set, also where none will flow."`
	Reversed   bool    `json:"reversed" doc:"Of the polarity switch."`
	Odour      bool    `json:"odour"`
	Polarities bool    `json:"polarities" doc:"The plan draws the polarity."`
	Odours     bool    `json:"odours" doc:"The plan has trials without odour."`
}

// CardList are all cards, to be printed.
type CardList struct {
	Seal  string     `json:"seal"`
	Cards []CardView `json:"cards"`
}

// WiringView says which pair is wired to which position of the switch. It was
// drawn with the schedule. Whoever wires the box sees it, and nobody else.
type WiringView struct {
	Seal  string     `json:"seal"`
	Wires []WireView `json:"wires"`
}

// WireView is one position of the switch.
type WireView struct {
	Position int    `json:"position"`
	Pair     string `json:"pair" doc:"Empty: nothing is wired to it, for shams."`
}

// LockRequest locks scoring.
type LockRequest struct {
	Author        string `json:"author"`
	Reason        string `json:"reason"`
	LeaveUnscored bool   `json:"leave_unscored" doc:"Lock although passes are not scored."`
}

// UnlockRequest unlocks scoring before the opening.
type UnlockRequest struct {
	Author string `json:"author"`
	Reason string `json:"reason"`
}

// PreregistrationView is what is written down before the first trial.
type PreregistrationView struct {
	Text       string           `json:"text" doc:"The document as it would be registered now, Markdown."`
	SHA256     string           `json:"sha256"`
	Missing    []string         `json:"missing" doc:"What a reader would miss in it."`
	Registered []RegisteredView `json:"registered" doc:"Oldest first."`
	Changed    bool             `json:"changed" doc:"The study says something else now than was registered last."`
}

// RegisteredView is one registered document.
type RegisteredView struct {
	ID      string    `json:"id"`
	Written StampView `json:"written"`
	Text    string    `json:"text"`
	SHA256  string    `json:"sha256"`
	Late    bool      `json:"late" doc:"Written after the first trial had begun."`
}

// RegisterRequest writes the document down.
type RegisterRequest struct {
	Author string `json:"author"`
	SHA256 string `json:"sha256" doc:"Of the text that was read; another one is refused."`
}
