package access

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Role is what a device is in one study.
type Role string

// The roles, from most rights to least.
const (
	Lead     Role = "lead"     // answers for the study
	Operator Role = "operator" // throws the switch and runs trials: sees cards
	Scorer   Role = "scorer"   // writes down what animals do: sees no cards
	Guest    Role = "guest"    // looks on
)

// Roles in the order of the table.
func Roles() []Role { return []Role{Lead, Operator, Scorer, Guest} }

// Right is what an operation needs.
type Right string

// The rights. The first four are rights in a study.
const (
	Look    Right = "look"            // results and pictures, no names of people
	Inspect Right = "inspect"         // everything that is written down
	Record  Right = "record"          // write into the study, take back, analyse
	Cards   Right = "cards"           // see what is wired and switched
	Decide  Right = "decide"          // lock scoring, register a plan
	Reckon  Right = "reckon"          // calculators that read and write nothing: any device that has a role somewhere
	Anyone  Right = "nothing"         // whoever reaches the server over TLS: to be let in at all
	AtHome  Right = "the laptop only" // never through the network: secret keys, whole imports, the list of studies
)

// rights says what a role may do in its study.
var rights = map[Role][]Right{
	Lead:     {Look, Inspect, Record, Cards, Decide},
	Operator: {Look, Inspect, Record, Cards},
	Scorer:   {Look, Inspect, Record},
	Guest:    {Look},
}

// needs says which right each operation of the API needs, by its operation ID.
// What is not here is refused.
var needs = map[string]Right{
	// The machine, not one study: a tablet has no business there.
	"home": AtHome, "create-study": AtHome, "plan-import": AtHome, "import": AtHome,
	"tablets": AtHome, "tablets-change": AtHome, "tablets-code": AtHome, "tablets-role": AtHome, "deck-import": AtHome,
	// Files of the laptop, and hours of its work.
	"footage-look": AtHome, "footage-import": AtHome, "footage-find": AtHome, "footage-upload": AtHome, "footage-proxy": AtHome, "footage-stop": AtHome,
	// What takes or makes a secret key that opens everything.
	"schedule-key": AtHome, "seal-schedule": AtHome, "take-schedule": AtHome, "rehearse-key": AtHome, "open-active-pairs": AtHome,

	"background": Reckon, "calibrate": Reckon, "rig": Reckon, "schedule-example": Reckon, "stimulus-errors": Reckon, "stimulus-points": Reckon,
	"stimulus-prey": Reckon, "stimulus-range": Reckon, "stimulus-section": Reckon, "stimulus-target": Reckon, "stimulus-volume": Reckon, "stimulus-waveform": Reckon,

	"season": Look, "progress": Look, "results": Look, "findings": Look, "curves": Look, "uncertainty": Look, "exposures": Look, "pass": Look,
	"water": Look, "stimulus": Look, "rig-start": Look, "background-start": Look, "calibration": Look,

	"question": Inspect, "tables": Inspect, "table": Inspect, "history": Inspect, "journal": Inspect, "preregistration": Inspect,
	"schedule": Inspect, "schedule-document": Inspect,

	// What a browser downloads as a file. The season folder holds names of people
	// and everything that was written down.
	"attachment": Inspect, "download-season": Decide,

	// The deck. What a batch may hold is told apart by kinds of records beside.
	"deck-me": Anyone, "deck-pair": Anyone, "deck": Inspect, "deck-log": Inspect, "deck-sync": Record,
	"deck-setup": Decide, "deck-align": Decide, "deck-reconcile": Decide,

	// Footage.
	"footage": Inspect, "footage-pass": Inspect, "footage-frames": Inspect, "footage-media": Inspect,
	"footage-sync": Record, "footage-poses": Record, "footage-camera": Record, "footage-fixes": Record,

	// The dossier: it holds all that was written down, and making one is a minute of
	// the laptop's work.
	"dossier": Inspect, "dossier-preview": Inspect, "dossier-figure": Inspect,
	"dossier-make": Decide, "dossier-stop": Decide, "dossier-remove": Decide, "dossier-file": Decide,
	"dossier-check": AtHome, "dossier-compare": AtHome, "dossier-upload": AtHome,

	"edit": Record, "undo": Record, "analyse": Record,

	// Whoever throws the switch on deck has no laptop at hand. Opening the cards
	// takes a key too, which goes to the memory of the program and back to nobody.
	"take-cards-out": Cards, "card": Cards, "all-cards": Cards, "wiring": Cards, "put-cards-away": Cards,

	"lock-scoring": Decide, "unlock-scoring": Decide, "register": Decide,
}

// Operations are those that the table knows, in order.
func Operations() []string { return slices.Sorted(maps.Keys(needs)) }

// NeedOf is the right that an operation needs; ok is false where the table has
// none, and then nobody may.
func NeedOf(operation string) (need Right, ok bool) {
	need, ok = needs[operation]
	return need, ok
}

// May reports whether a role may carry out an operation in its own study.
func May(role Role, operation string) bool {
	need, ok := needs[operation]
	return ok && role.known() && (need == Reckon || need == Anyone || slices.Contains(rights[role], need))
}

// may says why a device may not carry out an operation, or "".
func (d Device) may(operation, study string) string {
	need, ok := needs[operation]
	switch {
	case !ok:
		return "there is no rule for it"
	case need == Anyone:
		return ""
	case need == AtHome:
		return "it is for the browser on the laptop itself"
	case need == Reckon && study == "":
		if len(d.Roles) == 0 {
			return "the device has no role in any study"
		}
		return ""
	case study == "" || !d.Roles[study].known():
		return "the device has no role in this study"
	case !May(d.Roles[study], operation):
		return fmt.Sprintf("it needs the right to %s, which %s has not", need, d.Roles[study])
	}
	return ""
}

func (r Role) known() bool { _, ok := rights[r]; return ok }

// includes reports whether r may do all that other may; the role "" may do
// nothing.
func (r Role) includes(other Role) bool {
	return !slices.ContainsFunc(rights[other], func(x Right) bool { return !slices.Contains(rights[r], x) })
}

// known is an operation as it may stand in the list: what a stranger made up
// does not.
func known(operation string) string {
	if _, ok := needs[operation]; !ok {
		return "unknown"
	}
	return operation
}

func listOfRoles() string {
	names := make([]string, 0, 4)
	for _, r := range Roles() {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

// Table is the rules as a table in Markdown: operations by roles.
func Table() string {
	var b strings.Builder
	b.WriteString("| operation | needs |")
	for _, r := range Roles() {
		fmt.Fprintf(&b, " %s |", r)
	}
	b.WriteString("\n| --- | --- |" + strings.Repeat(" --- |", len(Roles())) + "\n")
	for _, op := range Operations() {
		fmt.Fprintf(&b, "| `%s` | %s |", op, needs[op])
		for _, r := range Roles() {
			mark := ""
			if May(r, op) {
				mark = "yes"
			}
			fmt.Fprintf(&b, " %s |", mark)
		}
		b.WriteString("\n")
	}
	return b.String()
}
