package access

import (
	"encoding/hex"
	"fmt"
	"slices"
	"time"
)

// What an [Event] is about.
const (
	CodeMade    = "code-made"
	Paired      = "paired"
	RoleChanged = "role-changed"
	Revoked     = "revoked"
	TookOver    = "took-over"
	Refused     = "refused"
)

// mostRefusals is how many refusals are kept; older ones make room. All else
// is kept for good.
const mostRefusals = 1000

// mostSights is how many lines of who saw what are kept; the one that was not
// seen for longest makes room.
const mostSights = 5000

// Sight is who saw or changed what: an operation of a device in a study ("" for
// calculators, which know no study).
type Sight struct {
	Device    string    `json:"device"`
	Study     string    `json:"study,omitempty"`
	Operation string    `json:"operation"`
	First     time.Time `json:"first"`
	Last      time.Time `json:"last"`
	Times     int       `json:"times"`
}

// see counts what a device was let do.
func (k *Keeper) see(now time.Time, device, study, operation string) {
	if needs[operation] == Anyone {
		return
	}
	all := k.state.Sights
	at := slices.IndexFunc(all, func(s Sight) bool { return s.Device == device && s.Operation == operation && s.Study == study })
	k.unsaved = true
	if at >= 0 {
		all[at].Last, all[at].Times = now, all[at].Times+1
		return
	}
	if len(all) >= mostSights {
		oldest := 0
		for i := range all {
			if all[i].Last.Before(all[oldest].Last) {
				oldest = i
			}
		}
		all = slices.Delete(all, oldest, oldest+1)
		k.state.DroppedSights++
	}
	k.state.Sights = append(all, Sight{Device: device, Study: study, Operation: operation, First: now, Last: now, Times: 1})
}

// Event is one line of the list of who was let in, changed or refused. The
// same refusal again and again is one line that counts.
type Event struct {
	At        time.Time `json:"at"`
	What      string    `json:"what"`
	Device    string    `json:"device,omitempty"`
	Name      string    `json:"name,omitempty"`
	Study     string    `json:"study,omitempty"`
	Role      Role      `json:"role,omitempty"`
	Was       Role      `json:"was,omitempty"`       // the role before
	Operation string    `json:"operation,omitempty"` // what was asked for
	By        string    `json:"by,omitempty"`        // who did it, on the laptop
	Why       string    `json:"why,omitempty"`
	Times     int       `json:"times,omitempty"` // of a refusal, where it is more than once
	Last      time.Time `json:"last,omitzero"`
}

func (k *Keeper) note(now time.Time, e Event) {
	e.At = now
	k.state.Audit = append(k.state.Audit, e)
	k.unsaved = true
}

// refuse writes a refusal down. A stranger who asks a million times makes one
// line: only the name that he gives could differ, and it counts only when a
// person could have typed it so often.
func (k *Keeper) refuse(now time.Time, e Event) {
	defer k.saveLater(now, refusedEvery)
	e.Study = short(e.Study) // as the stranger sent it
	k.unsaved = true
	for i := len(k.state.Audit) - 1; i >= 0 && i >= len(k.state.Audit)-50; i-- {
		a := &k.state.Audit[i]
		same := *a
		same.At, same.Times, same.Last = e.At, 0, time.Time{}
		if same == e {
			a.Times, a.Last = max(a.Times, 1)+1, now
			return
		}
	}
	k.note(now, e)
	refusals := 0
	for _, a := range k.state.Audit {
		if a.What == Refused {
			refusals++
		}
	}
	if refusals > mostRefusals {
		oldest := slices.IndexFunc(k.state.Audit, func(a Event) bool { return a.What == Refused })
		k.state.Audit = slices.Delete(k.state.Audit, oldest, oldest+1)
		k.state.Dropped++
	}
}

// Check reports what a kept state holds that cannot be: then it was damaged,
// or changed by hand, and nobody is let in by it.
func (s State) Check() error {
	ids, hashes, names := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i, d := range s.Devices {
		hash, err := hex.DecodeString(d.TokenHash)
		switch {
		case d.ID == "" || ids[d.ID]:
			return fmt.Errorf("%w: device %d has the identity %q; expected one of its own", ErrBad, i+1, d.ID)
		case err != nil || len(hash) != 32 || hashes[d.TokenHash]:
			return fmt.Errorf("%w: device %q has no token of its own; expected 64 hexadecimal digits", ErrBad, d.ID)
		case d.Roles == nil:
			return fmt.Errorf("%w: device %q has no list of roles", ErrBad, d.ID)
		}
		ids[d.ID], hashes[d.TokenHash] = true, true
		for _, name := range d.Writes {
			if parts := writesName.FindStringSubmatch(name); parts == nil || parts[1] != name || names[name] {
				return fmt.Errorf("%w: device %q writes as %q; expected a name of its own such as deck-7c1e", ErrBad, d.ID, name)
			}
			names[name] = true
		}
		for study, role := range d.Roles {
			if study == "" || !role.known() {
				return fmt.Errorf("%w: device %q has the role %q in study %q; expected one of %s", ErrBad, d.ID, role, study, listOfRoles())
			}
		}
	}
	return nil
}
