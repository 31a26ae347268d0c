package app

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

var (
	// ErrDeckRefused answers for a batch with an entry that its sender may not bring.
	ErrDeckRefused = errors.New("nothing of what was sent was taken in")
	// ErrDeckUnfit answers for entries that are none, or fit no chain.
	ErrDeckUnfit = errors.New("these are no entries that this study can take in, and nothing of what was sent was")
	// ErrOtherLog answers for a log of another study.
	ErrOtherLog = errors.New("these entries belong to another study: nothing of them was taken in; open the study in which they were logged")
)

// DeckForkError means that two copies of a tablet's log have both gone on.
type DeckForkError struct{ Fork *journal.ForkError }

func (e *DeckForkError) Error() string {
	return fmt.Sprintf("two copies of the log of device %s have both gone on: here its entry %d is another one, and nothing of what was sent was taken in; "+
		"save the log of this tablet as a file, keep the file, and let the tablet go on as a new device", e.Fork.Device, e.Fork.Seq)
}

func (e *DeckForkError) Unwrap() error { return e.Fork }

// unfit says of an error of the journal that the entries are at fault.
func unfit(err error) error {
	var fork *journal.ForkError
	var chain *journal.ChainError
	var newer *journal.NewerError
	var sameID *SameIDError
	switch {
	case errors.As(err, &fork):
		return &DeckForkError{fork}
	case errors.As(err, &chain), errors.As(err, &newer), errors.As(err, &sameID), errors.Is(err, journal.ErrNotCanonical):
		return fmt.Errorf("%w: %w", ErrDeckUnfit, err)
	}
	return err
}

// deckDevice begins the names under which tablets write.
const deckDevice = "deck-"

// loggedKinds are the kinds that whoever records may bring from a tablet.
// Readings, which tell the active pair, need the right to see cards too.
var loggedKinds = []study.Kind{
	study.KindTrial, study.KindPass, study.KindIndividual, study.KindCheck, study.KindEvent, study.KindCount, study.KindAttachment,
}

// ofTablet reports whether a device is a tablet, by its name.
func ofTablet(device string) bool { return strings.HasPrefix(device, deckDevice) }

func (c Caller) laptop() bool { return c.Device == "" && c.Role == "" && len(c.Writes) == 0 }

// records and seesCards are what the roles may do (internal/access has the table).
func (c Caller) records() bool {
	return c.laptop() || slices.Contains([]string{"lead", "operator", "scorer"}, c.Role)
}

func (c Caller) seesCards() bool {
	return c.laptop() || slices.Contains([]string{"lead", "operator"}, c.Role)
}

// writesAs reports whether entries of a device are the caller's own. After damage
// to its log a tablet goes on with -2, -3 … behind its name.
func (c Caller) writesAs(device string) bool {
	return c.laptop() || slices.ContainsFunc(c.Writes, func(own string) bool {
		rest, ok := strings.CutPrefix(device, own)
		if !ok || own == "" || rest == "" {
			return ok && own != ""
		}
		number, ok := strings.CutPrefix(rest, "-")
		n, err := strconv.Atoi(number)
		return ok && err == nil && n >= 2 && strconv.Itoa(n) == number
	})
}

// mayBring says why a caller may not bring an entry, or "". What an entry says is no
// reason, but where it would tell outside the guarded part which pair was active.
func (c Caller) mayBring(e *journal.Entry) string {
	switch {
	case !c.writesAs(e.Device):
		return fmt.Sprintf("it is of device %s, and this tablet writes as %s", e.Device, joinWords(c.Writes))
	case !ofTablet(e.Device) && c.laptop():
		if e.Kind == study.KindOpening && e.Act != journal.Record {
			return ErrOpeningStays.Error()
		}
		return ""
	case e.Kind == study.KindReading && !c.seesCards():
		return fmt.Sprintf("a reading tells which pair was active, and a %s does not see that; expected that the tablet of the lead or the operator brings it", c.role())
	case e.Kind == study.KindReading && c.records():
	case !slices.Contains(loggedKinds, e.Kind):
		return fmt.Sprintf("it is about %q, which no tablet writes; expected a trial, pass, individual, check, reading, event, count or attachment", e.Kind)
	case !c.records():
		return fmt.Sprintf("it is about a %s, and a %s writes nothing down", e.Kind, c.role())
	}
	if field := guardedIn(&e.Body); field != "" {
		return fmt.Sprintf("it holds %s, which tells which pair was active; expected it in a reading, kept apart", field)
	}
	return ""
}

func (c Caller) role() string {
	if c.Role == "" {
		return "tablet without a role"
	}
	return c.Role
}

// guardedIn is a guarded field that a body holds, or "".
func guardedIn(b *journal.Body) string {
	for _, field := range study.GuardedFields {
		_, now := b.Fields[field]
		_, was := b.Was[field]
		if now || was || b.Table != nil && slices.Contains(b.Table.Columns, field) {
			return field
		}
	}
	return ""
}
