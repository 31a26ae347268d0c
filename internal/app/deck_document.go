package app

import "brinefield/core/deck"

// DeckView is everything that a tablet needs to log without the laptop, and what
// the page Deck begins with. It holds nothing that tells which pair was active.
type DeckView struct {
	Study    string `json:"study"`
	Identity string `json:"identity" doc:"Of the study, whatever its folder is called: the ID of the entry that began it."`
	Title    string `json:"title"`
	SiteName string `json:"site_name"`
	Zone     string `json:"zone" doc:"IANA time zone of the site."`
	Invented bool   `json:"invented"`
	ReadOnly bool   `json:"read_only"`
	Blind    bool   `json:"blind"`
	Locked   bool   `json:"locked" doc:"Scoring is locked: what is logged now is taken in, and listed as late."`
	Position int64  `json:"position" doc:"Of the journal."`
	ETag     string `json:"etag" doc:"Of the spec: sent back as If-Match when it is changed."`
	NowMS    int64  `json:"now_ms" doc:"The laptop's clock, Unix milliseconds."`
	Role     string `json:"role" doc:"Of whom this was made for; empty for the laptop itself."`
	Device   string `json:"device" doc:"The name under which this tablet writes entries; empty for the laptop."`

	Spec        deck.Spec        `json:"spec" doc:"With the times of the sealed schedule where the study states none."`
	SpecWritten bool             `json:"spec_written" doc:"False: the study has none of its own, and this is the usual one."`
	Pairs       []DeckPair       `json:"pairs"`
	Species     []DeckSpecies    `json:"species"`
	Individuals []DeckIndividual `json:"individuals"`
	Trials      []DeckTrial      `json:"trials" doc:"Of the schedule in its order, spare draws last, then those beside it."`
	Permits     []DeckPermit     `json:"permits"`
	People      []DeckPerson     `json:"people" doc:"Who wrote in this study so far."`
	Cautions    int              `json:"cautions" doc:"Cautions of the page Question that are not ticked."`
}

// DeckPair is a pair and where it lies.
type DeckPair struct {
	Label      string  `json:"label"`
	XM         float64 `json:"x_m"`
	YM         float64 `json:"y_m"`
	AzimuthDeg float64 `json:"azimuth_deg"`
}

// DeckSpecies is a species and what else it is called.
type DeckSpecies struct {
	Name    string   `json:"name"`
	Aliases []string `json:"aliases"`
}

// DeckIndividual is an animal that is known by its marks.
type DeckIndividual struct {
	ID        string   `json:"id"`
	Species   string   `json:"species"`
	Sex       string   `json:"sex"`
	Mark      string   `json:"mark"`
	Pictures  []string `json:"pictures" doc:"References of pictures, newest first."`
	Passes    int      `json:"passes"`
	LastTrial string   `json:"last_trial"`
}

// DeckTrial is a trial that was planned or run.
type DeckTrial struct {
	Trial   string            `json:"trial"`
	Planned bool              `json:"planned" doc:"It stands in the sealed schedule."`
	Spare   bool              `json:"spare"`
	Fields  map[string]string `json:"fields" doc:"What was recorded, without what is guarded; empty where it was not begun."`
	Passes  int               `json:"passes"`
}

// DeckPermit is a permit and what was counted against it.
type DeckPermit struct {
	ID          string   `json:"id"`
	What        string   `json:"what"`
	Number      string   `json:"number"`
	ValidFrom   string   `json:"valid_from"`
	ValidTo     string   `json:"valid_to"`
	Animals     int      `json:"animals" doc:"Counted so far."`
	AnimalsMost *int     `json:"animals_most,omitempty"`
	Hours       float64  `json:"hours" doc:"Counted so far."`
	HoursMost   *float64 `json:"hours_most,omitempty"`
}

// DeckPerson is a name and the reference that stands for it in entries.
type DeckPerson struct {
	Name string `json:"name"`
	Mark string `json:"mark" doc:"person: and a reference."`
}

// DeckBatch is what a tablet brings.
type DeckBatch struct {
	Identity string     `json:"identity" doc:"Of the study that these belong to."`
	Entries  []string   `json:"entries" doc:"Canonical texts of journal entries; each device's in its order." maxItems:"5000"`
	Blobs    []DeckBlob `json:"blobs" maxItems:"500"`
	NowMS    int64      `json:"now_ms" doc:"The tablet's clock when it sent this, Unix milliseconds."`
}

// DeckBlob is what an entry only refers to.
type DeckBlob struct {
	Ref  string `json:"ref" doc:"SHA-256 of salt and data, hexadecimal."`
	Kind string `json:"kind" enum:"person,photo,voice,guarded"`
	Salt []byte `json:"salt" doc:"32 bytes, base64."`
	Data []byte `json:"data" doc:"Base64."`
}

// DeckAnswer says what is on the laptop's disc after a batch: what it names is
// safe.
type DeckAnswer struct {
	Heads    map[string]DeckHead `json:"heads" doc:"Of each device of the batch; one that is not named has nothing here."`
	Blobs    []string            `json:"blobs" doc:"References of the blobs of this batch that need not be sent again: they are here, or were erased here."`
	Erased   []string            `json:"erased,omitempty" doc:"Those of them that were erased here: the tablet forgets them too."`
	Refused  []DeckRefusal       `json:"refused,omitempty" doc:"Blobs of this batch that are not what their references say."`
	Missing  []string            `json:"missing" doc:"References that entries of these devices name and that are not here."`
	NowMS    int64               `json:"now_ms"`
	Position int64               `json:"position"`
}

// DeckRefusal is a blob that was not taken in.
type DeckRefusal struct {
	Ref string `json:"ref"`
	Why string `json:"why"`
}

// DeckHead is where a device's chain ends here.
type DeckHead struct {
	Seq  int64  `json:"seq"`
	Hash string `json:"hash"`
}

// DeckLogView is what came in from the deck.
type DeckLogView struct {
	ReadOnly    bool             `json:"read_only"`
	Devices     []DeckDevice     `json:"devices"`
	Same        []DeckSame       `json:"same" doc:"Passes that two people may have logged of one: to be reconciled."`
	Events      []DeckEvent      `json:"events" doc:"Adverse events first, then notes; newest first."`
	Checks      []DeckCheck      `json:"checks" doc:"Newest first."`
	Readings    []DeckReading    `json:"readings" doc:"Currents that were read before and after trials; sealed with their trial."`
	Counts      []DeckCount      `json:"counts" doc:"Against permits, newest first."`
	Attachments []DeckAttachment `json:"attachments" doc:"Newest first."`
	Passes      []DeckPass       `json:"passes" doc:"The newest 200 that tablets logged, newest first."`
	Warnings    []string         `json:"warnings"`
}

// DeckDevice is a device that wrote entries.
type DeckDevice struct {
	Device  string   `json:"device"`
	Entries int64    `json:"entries"`
	Here    bool     `json:"here" doc:"This laptop."`
	Last    string   `json:"last" doc:"By its own clock, RFC 3339 at the site."`
	Passes  int      `json:"passes"`
	OffsetS *float64 `json:"offset_s,omitempty" doc:"How far its clock was ahead of this laptop's, in seconds, as stated."`
	Stated  string   `json:"stated,omitempty" doc:"When the offset was stated."`
	Aligned bool     `json:"aligned" doc:"The times of its passes were corrected by the offset."`
}

// DeckSame are two passes that may be one.
type DeckSame struct {
	ID           string      `json:"id" doc:"Of the pair of passes."`
	Trial        string      `json:"trial"`
	Pair         string      `json:"pair"`
	SecondsApart float64     `json:"seconds_apart" doc:"Clocks aligned by their stated offsets."`
	Passes       [2]DeckPass `json:"passes" doc:"The earlier one first."`
	Differ       []string    `json:"differ" doc:"Fields in which they differ."`
}

// DeckPass is a pass as it was logged.
type DeckPass struct {
	Pass   string            `json:"pass"`
	Device string            `json:"device"`
	Fields map[string]string `json:"fields" doc:"Names in the place of references."`
}

// DeckEvent is an adverse event or a note.
type DeckEvent struct {
	ID     string `json:"id"`
	What   string `json:"what" enum:"adverse,note"`
	Trial  string `json:"trial"`
	Time   string `json:"time"`
	Animal string `json:"animal"`
	Text   string `json:"text"`
	By     string `json:"by"`
}

// DeckCheck is what was found before a trial.
type DeckCheck struct {
	ID    string `json:"id"`
	Trial string `json:"trial"`
	Check string `json:"check"`
	State string `json:"state" enum:"ok,not ok"`
	Time  string `json:"time"`
	By    string `json:"by"`
	Note  string `json:"note"`
}

// DeckReading is a current that was read.
type DeckReading struct {
	ID        string   `json:"id"`
	Trial     string   `json:"trial"`
	When      string   `json:"when" enum:"before,after"`
	Time      string   `json:"time"`
	By        string   `json:"by"`
	Sealed    bool     `json:"sealed"`
	Here      bool     `json:"here" doc:"False: what was read has not come in yet."`
	CurrentUA *float64 `json:"current_uA,omitempty"`
}

// DeckCount is counted against a permit.
type DeckCount struct {
	ID      string   `json:"id"`
	Permit  string   `json:"permit"`
	Trial   string   `json:"trial"`
	Time    string   `json:"time"`
	Species string   `json:"species"`
	Animals *int     `json:"animals,omitempty"`
	Hours   *float64 `json:"hours,omitempty"`
	By      string   `json:"by"`
	Note    string   `json:"note"`
}

// DeckAttachment is a photo or a voice note.
type DeckAttachment struct {
	ID    string `json:"id"`
	Ref   string `json:"ref"`
	Kind  string `json:"kind" enum:"photo,voice"`
	About string `json:"about" doc:"kind/ID, such as pass/7c1e-0004; empty: the study."`
	Type  string `json:"type" doc:"Media type."`
	Time  string `json:"time"`
	By    string `json:"by"`
	State string `json:"state" enum:"here,not here yet,erased"`
	Bytes int    `json:"bytes"`
}

// DeckSetupRequest changes how a study logs.
type DeckSetupRequest struct {
	Spec   deck.Spec `json:"spec"`
	Author string    `json:"author,omitempty"`
	Reason string    `json:"reason,omitempty"`
	// IfMatch is the ETag of the spec that was changed; it comes from the header.
	IfMatch string `json:"-"`
}

// DeckImportRequest takes in a log that a tablet saved as a file.
type DeckImportRequest struct {
	File   string `json:"file" doc:"The whole text of a deck-log.jsonl."`
	Author string `json:"author,omitempty"`
}

// DeckImported says what a log or a batch brought.
type DeckImported struct {
	New     int      `json:"new"`
	Known   int      `json:"known"`
	Blobs   int      `json:"blobs" doc:"New names, pictures, voices and readings."`
	Devices []string `json:"devices"`
	Faults  []string `json:"faults" doc:"Lines of the file that were not whole, each with its number."`
	Notes   []string `json:"notes"`
}

// DeckAlignRequest states how far a device's clock was ahead, and corrects by it
// the times that it wrote where asked.
type DeckAlignRequest struct {
	Device  string  `json:"device"`
	OffsetS float64 `json:"offset_s" minimum:"-86400" maximum:"86400" doc:"How far ahead of this laptop's clock, in seconds."`
	Correct bool    `json:"correct" doc:"Correct the times of the passes that it logged, and the starts and ends of trials that stand as it wrote them."`
	Author  string  `json:"author,omitempty"`
	Reason  string  `json:"reason,omitempty"`
}

// DeckReconcileRequest says what two passes are.
type DeckReconcileRequest struct {
	Passes  [2]string `json:"passes"`
	Verdict string    `json:"verdict" enum:"one,two" doc:"One pass that was logged twice, or two passes."`
	Keep    string    `json:"keep,omitempty" doc:"Of one pass: which of the two stands; the other is withdrawn."`
	Author  string    `json:"author,omitempty"`
	Reason  string    `json:"reason,omitempty"`
}
