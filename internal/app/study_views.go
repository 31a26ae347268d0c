package app

// HomeView is what Home shows: the studies on this machine, what is done in
// each, and what is next.
type HomeView struct {
	Program Program     `json:"program"`
	Shelf   string      `json:"shelf" doc:"Where the studies lie, as the user would write it."`
	Writes  bool        `json:"writes" doc:"False where a season folder is only shown: nothing can be created then."`
	Studies []StudyCard `json:"studies"`
}

// StudyCard is one study on Home.
type StudyCard struct {
	Study    string     `json:"study" doc:"Name of its folder; the key in every address."`
	Kind     string     `json:"kind" enum:"study,season" doc:"A season is a folder that is shown read-only."`
	Title    string     `json:"title"`
	SiteName string     `json:"site_name"`
	Invented bool       `json:"invented"`
	ReadOnly bool       `json:"read_only"`
	Blind    bool       `json:"blind" doc:"Which pair was active is sealed."`
	Problem  string     `json:"problem,omitempty" doc:"Why it cannot be opened, and what to do."`
	Notes    []string   `json:"notes" doc:"Warnings about the place it lies in, the clock, the disc."`
	Trials   int        `json:"trials"`
	Passes   int        `json:"passes"`
	Animals  int        `json:"animals"`
	Changed  string     `json:"changed" doc:"When the last entry was made, RFC 3339; empty where there is none."`
	Exported string     `json:"exported" doc:"When the plain export inside the folder was made last."`
	Steps    []StepView `json:"steps" doc:"The work in its order."`
}

// StepView is one step of the work.
type StepView struct {
	Step  string `json:"step" enum:"question,water,rig,schedule,trials,passes,footage,findings" doc:"Footage only where there are clips."`
	State string `json:"state" enum:"done,next,later,attention"`
	Say   string `json:"say" doc:"One sentence: what is done, or what is missing."`
}

// FileUpload is one file of a dropped folder.
type FileUpload struct {
	Name string `json:"name"`
	Data []byte `json:"data" doc:"Base64."`
}

// PlanRequest asks what an import would change.
type PlanRequest struct {
	Study string       `json:"study" doc:"The study to import into; empty for a new one."`
	Files []FileUpload `json:"files"`
}

// PlanView says what an import would change. Nothing is changed yet.
type PlanView struct {
	Plan      string       `json:"plan" doc:"Names this plan when it is carried out; empty where there are faults."`
	Study     string       `json:"study"`
	Title     string       `json:"title"`
	Suggested string       `json:"suggested" doc:"A name for a new study."`
	Faults    []FaultView  `json:"faults"`
	FaultRows []FaultRows  `json:"fault_rows"`
	Tables    []PlanTable  `json:"tables"`
	Changes   []PlanChange `json:"changes" doc:"The first thousand values that would change."`
	More      int          `json:"more" doc:"How many more there are."`
	Guarded   bool         `json:"guarded" doc:"The folder tells which pair was active."`
	Warnings  []string     `json:"warnings"`
}

// PlanTable counts the records of one kind.
type PlanTable struct {
	Kind    string `json:"kind"`
	Added   int    `json:"added"`
	Changed int    `json:"changed"`
	Same    int    `json:"same"`
	Missing int    `json:"missing" doc:"In the study and not in the folder."`
}

// PlanChange is one value that would change; of a table (a track, a cast) only
// that it would.
type PlanChange struct {
	Kind  string `json:"kind"`
	ID    string `json:"id"`
	Act   string `json:"act" enum:"record,correct,remove"`
	Field string `json:"field"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// ImportRequest carries out a plan.
type ImportRequest struct {
	Plan          string `json:"plan"`
	Study         string `json:"study" doc:"Name of the study; a new one where the plan was for a new one."`
	Blind         bool   `json:"blind,omitempty" doc:"Keep sealed which pair was active until somebody opens it."`
	RemoveMissing bool   `json:"remove_missing,omitempty" doc:"Withdraw what the folder no longer holds."`
	Author        string `json:"author,omitempty"`
}

// NewStudyRequest makes an empty study.
type NewStudyRequest struct {
	Study  string `json:"study"`
	Title  string `json:"title"`
	Author string `json:"author,omitempty"`
}

// ImportDone says what an import wrote.
type ImportDone struct {
	Study   string `json:"study"`
	Entries int    `json:"entries"`
}

// TableList names the tables of a study.
type TableList struct {
	Tables []TableName `json:"tables"`
}

// TableName is one table.
type TableName struct {
	Kind string `json:"kind"`
	Rows int    `json:"rows"`
}

// TableView is a part of one table as it stands.
type TableView struct {
	Kind     string        `json:"kind"`
	ReadOnly bool          `json:"read_only"`
	Blind    bool          `json:"blind"`
	Total    int           `json:"total"`
	Offset   int           `json:"offset"`
	Columns  []TableColumn `json:"columns"`
	Rows     []TableRow    `json:"rows"`
}

// TableColumn is a column of a table; its name carries the unit.
type TableColumn struct {
	Name     string   `json:"name"`
	Optional bool     `json:"optional"`
	Guarded  bool     `json:"guarded" doc:"Tells which pair was active: shown only once that was opened."`
	Choices  []string `json:"choices,omitempty" doc:"The values that it can have, where they are few."`
}

// TableRow is one record. Cells stand in the order of the columns; a guarded
// cell of a blind study is empty.
type TableRow struct {
	ID       string   `json:"id"`
	Cells    []string `json:"cells"`
	Entries  int      `json:"entries" doc:"How many entries there are about it; more than 1: it was changed."`
	Readings int      `json:"readings,omitempty" doc:"Rows of its own table, for a track or a cast."`
}

// EditRequest changes records: all of it or nothing.
type EditRequest struct {
	Author  string       `json:"author,omitempty"`
	Reason  string       `json:"reason,omitempty"`
	Changes []CellChange `json:"changes,omitempty"`
	Add     []NewRow     `json:"add,omitempty"`
	Remove  []RowName    `json:"remove,omitempty"`
}

// CellChange gives one field another value; To "" makes it blank. From is what
// the page showed: an edit of a value that changed meanwhile is refused.
type CellChange struct {
	Kind  string `json:"kind"`
	ID    string `json:"id"`
	Field string `json:"field"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// NewRow is a new record.
type NewRow struct {
	Kind   string            `json:"kind"`
	ID     string            `json:"id"`
	Fields map[string]string `json:"fields"`
}

// RowName names a record.
type RowName struct {
	Kind string `json:"kind"`
	ID   string `json:"id"`
}

// EditDone says what an edit wrote; each entry can be undone.
type EditDone struct {
	Entries []EntryView `json:"entries"`
}

// UndoRequest takes back the effect of one entry.
type UndoRequest struct {
	Entry  string `json:"entry"`
	Author string `json:"author,omitempty"`
}

// EntryView is an entry of the journal as people read it.
type EntryView struct {
	Entry    string        `json:"entry"`
	Kind     string        `json:"kind"`
	ID       string        `json:"id"`
	Act      string        `json:"act" enum:"record,correct,remove"`
	Author   string        `json:"author" doc:"Empty where nobody was named; \"erased person\" where the name was erased."`
	When     string        `json:"when" doc:"RFC 3339, in the site's zone, by the clock of the device."`
	Device   string        `json:"device"`
	Seq      int64         `json:"seq"`
	Reason   string        `json:"reason,omitempty"`
	Undoes   string        `json:"undoes,omitempty"`
	UndoneBy string        `json:"undone_by,omitempty"`
	CanUndo  bool          `json:"can_undo"`
	Values   []EntryChange `json:"values"`
	Table    bool          `json:"table" doc:"It replaced a table: a track or a cast."`
}

// EntryChange is one value that an entry set.
type EntryChange struct {
	Field string `json:"field"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// HistoryView is entries, oldest first for one record, newest first for the
// whole journal.
type HistoryView struct {
	Entries []EntryView `json:"entries"`
	Before  int64       `json:"before" doc:"Ask for entries before this for more; 0 at the end."`
}

// OpeningRequest opens the active pairs: they can be seen from then on, and
// that they were opened stays in the journal.
type OpeningRequest struct {
	Author string   `json:"author" minLength:"1"`
	Reason string   `json:"reason" minLength:"1"`
	Trials []string `json:"trials,omitempty" doc:"Only of these trials; empty: of all."`
	KeyProof
	Lock          bool `json:"lock,omitempty" doc:"Lock scoring in the same step."`
	LeaveUnscored bool `json:"leave_unscored,omitempty" doc:"Lock although passes are not scored."`
}

// QuestionView is the page Question.
type QuestionView struct {
	Study    string            `json:"study"`
	ReadOnly bool              `json:"read_only"`
	Title    string            `json:"title"`
	Question string            `json:"question"`
	Site     map[string]string `json:"site" doc:"Fields of [site] as written."`
	Protocol map[string]string `json:"protocol" doc:"people, contact, method, start, end, hypotheses, criteria, stopping_rule, analysis_plan: as written."`
	Permits  []PermitView      `json:"permits"`
	Cautions []CautionGroup    `json:"cautions"`
	Draft    string            `json:"analysis_plan_draft" doc:"An analysis plan made of the study's own settings, offered to begin with. Nobody chose it."`
}

// PermitView is a permit or an approval.
type PermitView struct {
	ID     string            `json:"id"`
	Fields map[string]string `json:"fields" doc:"what, authority, number, holder, valid_from, valid_to, animals_most, hours_most, note."`
}

// CautionGroup is the cautions about one thing.
type CautionGroup struct {
	About    string        `json:"about"`
	Cautions []CautionView `json:"cautions"`
}

// CautionView is one caution to tick.
type CautionView struct {
	ID      string `json:"id"`
	Caution string `json:"caution"`
	Rests   string `json:"rests" doc:"The published document that it rests on."`
	Ticked  bool   `json:"ticked"`
	By      string `json:"by"`
	When    string `json:"when"`
	Note    string `json:"note"`
}

// WaterView is the page Water.
type WaterView struct {
	Statement string           `json:"statement" doc:"What the study says of its water where a trial says nothing."`
	DepthM    *float64         `json:"depth_m" nullable:"true"`
	Casts     []CastView       `json:"casts"`
	Trials    []TrialWaterView `json:"trials"`
	Warnings  []string         `json:"warnings"`
}

// CastView is the readings of one time, in the order of depth.
type CastView struct {
	Time     string        `json:"time"`
	Readings []CastReading `json:"readings"`
}

// CastReading is one reading; the conductivity is computed where only
// temperature and salinity were read.
type CastReading struct {
	DepthM            float64  `json:"depth_m"`
	TemperatureC      *float64 `json:"temperature_C" nullable:"true"`
	Salinity          *float64 `json:"salinity" nullable:"true"`
	ConductivitySPerM *float64 `json:"conductivity_S_per_m" nullable:"true"`
	Computed          bool     `json:"computed"`
}

// TrialWaterView is the conductivity of one trial and what it comes from.
type TrialWaterView struct {
	Trial             string   `json:"trial"`
	Start             string   `json:"start"`
	ConductivitySPerM *float64 `json:"conductivity_S_per_m" nullable:"true"`
	From              string   `json:"from" enum:"trial,trial_salinity,cast,study"`
	CastTime          string   `json:"cast_time" doc:"The cast nearest in time, where it comes from a cast."`
	DepthM            *float64 `json:"depth_m" nullable:"true"`
}

// ResultsView says whether what Exposures and Findings show is up to date.
type ResultsView struct {
	State     string        `json:"state" enum:"none,running,current,out_of_date,failed,incomplete"`
	Shown     string        `json:"shown" doc:"Fingerprint of the data that the shown results were made from; empty where none are."`
	Data      string        `json:"data" doc:"Fingerprint of the data now."`
	Computed  string        `json:"computed" doc:"When the shown results were made."`
	Since     int           `json:"since" doc:"Entries made since."`
	Progress  *ProgressView `json:"progress,omitempty"`
	Error     string        `json:"error,omitempty"`
	Faults    []FaultView   `json:"faults" doc:"What keeps the study from being analysed."`
	FaultRows []FaultRows   `json:"fault_rows"`
	Blind     bool          `json:"blind"`
}
