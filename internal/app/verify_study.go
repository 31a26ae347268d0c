package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// VerifyDocument says whether a study is what its journal says.
type VerifyDocument struct {
	Heading
	Study       string         `json:"study"`
	Same        bool           `json:"same" doc:"Nothing differs."`
	Entries     int64          `json:"entries"`
	Records     int            `json:"records"`
	Files       int            `json:"files" doc:"Erasable files, erased ones left out."`
	Erased      int            `json:"erased"`
	Devices     []DeviceChain  `json:"devices"`
	Differences []string       `json:"differences"`
	Notes       []string       `json:"notes" doc:"Worth knowing, and no difference: a clock that was set back, for one."`
	Checked     []VerifiedPart `json:"checked"`
}

// DeviceChain is the chain of one device.
type DeviceChain struct {
	Device  string `json:"device"`
	Entries int64  `json:"entries"`
	Head    string `json:"head" doc:"SHA-256 of its last entry."`
}

// VerifiedPart is one part that was looked at.
type VerifiedPart struct {
	Part        string `json:"part" enum:"chain,records,files,schedule,storage,footage"`
	Differences int    `json:"differences"`
}

// mostDifferences is how many differences of one part are listed.
const mostDifferences = 50

// Verify checks a whole study: the chain of every device; the records, which
// are made again from the journal in memory; every file against its hash; and
// what the store can tell of itself, the guarded part among it; and copies of footage
// against theirs. It changes nothing. progress may be nil.
func (s *Study) Verify(ctx context.Context, progress func(stage string, done, total int)) (VerifyDocument, error) {
	doc := newVerifyDocument(s.options.Program, s.folder.Name)
	doc.Notes = append(doc.Notes, s.folder.Notes...)
	v := &verifier{study: s, doc: &doc, states: map[recordName]*journal.State{}, mixed: map[recordName]bool{}, progress: progress}
	for _, part := range []struct {
		name  string
		check func(context.Context) error
	}{{"chain", v.chains}, {"records", v.records}, {"files", v.files}, {"schedule", v.schedule}, {"storage", v.storage}, {"footage", v.footage}} {
		if part.name == "footage" && !v.hasFootage(ctx) {
			continue
		}
		v.part = part.name
		v.found = 0
		if err := part.check(ctx); err != nil {
			return doc, err
		}
		if over := v.found - mostDifferences; over > 0 {
			doc.Differences = append(doc.Differences, fmt.Sprintf("%s: and %d more", part.name, over))
		}
		doc.Checked = append(doc.Checked, VerifiedPart{Part: part.name, Differences: v.found})
	}
	doc.Same = len(doc.Differences) == 0
	return doc, nil
}

type verifier struct {
	study    *Study
	doc      *VerifyDocument
	progress func(stage string, done, total int)
	part     string
	found    int
	states   map[recordName]*journal.State // made again from the journal
	mixed    map[recordName]bool           // an entry came in behind its time
	own      string                        // this device
	persons  map[string]bool               // references to erasable files; true: this device should have the file
	attached map[string]bool               // those of them that are photos and voice notes
}

func (v *verifier) differs(format string, args ...any) {
	what := fmt.Sprintf(format, args...)
	if slices.Contains(v.doc.Differences, what) {
		return // another part has found it already
	}
	v.found++
	if v.found <= mostDifferences {
		v.doc.Differences = append(v.doc.Differences, what)
	}
}

func (v *verifier) tell(done, total int) {
	if v.progress != nil {
		v.progress(v.part, done, total)
	}
}

// chains follows the chain of every device and folds the entries into records
// on the way. A chain that breaks is not followed further.
func (v *verifier) chains(ctx context.Context) error {
	head, err := v.study.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	chains, broken := map[string]*journal.Chain{}, map[string]bool{}
	v.persons, v.attached, v.own = map[string]bool{}, map[string]bool{}, head.Device
	position := int64(0)
	for stored, err := range v.study.folder.Journal.All(ctx) {
		if err != nil {
			return err
		}
		position = stored.Position
		v.doc.Entries++
		if v.doc.Entries%1000 == 0 {
			v.tell(int(v.doc.Entries), int(head.Entries))
		}
		c := chains[stored.Device]
		if c == nil {
			c = &journal.Chain{Device: stored.Device}
			chains[stored.Device] = c
		}
		if broken[stored.Device] {
			continue
		}
		entry, err := c.Next(stored.Canonical, stored.Hash)
		if err != nil {
			broken[stored.Device] = true
			v.differs("%v", err)
			continue
		}
		v.fold(entry)
	}
	if v.doc.Entries != head.Entries || position != head.Position {
		v.differs("the journal holds %d entries up to position %d, but counts %d up to %d", v.doc.Entries, position, head.Entries, head.Position)
	}
	v.heads(chains, broken, head)
	return v.foldMixed(ctx, chains)
}

// foldMixed makes those records again whose entries did not come in the order of
// their IDs, of the entries that were checked.
func (v *verifier) foldMixed(ctx context.Context, chains map[string]*journal.Chain) error {
	for name := range v.mixed {
		if err := ctx.Err(); err != nil {
			return err
		}
		entries, err := v.study.folder.Journal.History(ctx, name.kind, name.id)
		if err != nil {
			v.differs("%s %s: its entries cannot be read again: %v", name.kind, name.id, err)
			continue
		}
		entries = slices.DeleteFunc(entries, func(e journal.Entry) bool { return chains[e.Device] == nil || e.Seq > chains[e.Device].Head.Seq })
		if v.states[name], err = journal.Fold(entries); err != nil {
			v.differs("%v", err)
		}
		if v.states[name] == nil {
			delete(v.states, name)
		}
	}
	return nil
}

// fold makes the records again, and gathers who is named.
func (v *verifier) fold(e journal.Entry) {
	name := recordName{e.Kind, e.Subject}
	before := v.states[name]
	if before != nil && e.ID < before.Last {
		v.mixed[name] = true
	}
	after, err := journal.Apply(before, e)
	if err != nil {
		v.differs("%v", err)
		return
	}
	v.states[name] = after
	for _, text := range append(slices.Collect(maps.Values(e.Body.Fields)), e.Author) {
		if ref, ok := strings.CutPrefix(text, personMark); ok {
			v.persons[ref] = v.persons[ref] || e.Device == v.own
		}
	}
	if ref := e.Body.Fields[refField]; e.Kind == study.KindAttachment && isRef(ref) {
		v.attached[ref] = true
		v.persons[ref] = v.persons[ref] || e.Device == v.own
	}
}

func (v *verifier) heads(chains map[string]*journal.Chain, broken map[string]bool, head JournalHead) {
	for _, device := range slices.Sorted(maps.Keys(chains)) {
		c := chains[device]
		v.doc.Devices = append(v.doc.Devices, DeviceChain{Device: device, Entries: c.Head.Seq, Head: c.Head.Hash.String()})
		if known := head.Devices[device]; !broken[device] && (known.Seq != c.Head.Seq || known.Hash != c.Head.Hash) {
			v.differs("the chain of device %s ends at entry %d, but the study says that it ends at %d: entries are missing at its end", device, c.Head.Seq, known.Seq)
		}
		for _, back := range c.SetBack {
			v.doc.Notes = append(v.doc.Notes, fmt.Sprintf("the clock of device %s was set back before its entry %d: from %s to %s", device, back.Seq, back.Before.Format(time.RFC3339), back.After.Format(time.RFC3339)))
		}
	}
	for device, known := range head.Devices {
		if chains[device] == nil && known.Seq > 0 {
			v.differs("the journal holds no entry of device %s, but the study counts %d", device, known.Seq)
		}
	}
}

// records compares what the pages read with what the journal gives.
func (v *verifier) records(ctx context.Context) error {
	stands, err := v.study.folder.Journal.States(ctx)
	if err != nil {
		return err
	}
	v.doc.Records = len(stands)
	for i := range stands {
		v.tell(i+1, len(stands))
		now := &stands[i]
		name := recordName{now.Kind, now.ID}
		want := v.states[name]
		switch {
		case want == nil || want.Removed:
			v.differs("%s %s stands in the study, but not by its journal", now.Kind, now.ID)
		case !sameState(want, now):
			v.differs("%s %s is not what its journal says", now.Kind, now.ID)
		}
		delete(v.states, name)
	}
	for _, want := range v.states {
		if !want.Removed {
			v.differs("%s %s stands in the journal, but the study does not show it", want.Kind, want.ID)
		}
	}
	return ctx.Err()
}

func sameState(a, b *journal.State) bool {
	if a.First != b.First || a.Last != b.Last || a.Entries != b.Entries {
		return false
	}
	_, differs := journal.Changes(a, b.Record)
	return !differs
}

// files reads every erasable file, and looks for those that entries name.
func (v *verifier) files(ctx context.Context) error {
	held, err := v.study.folder.Erasable.Refs(ctx)
	if err != nil {
		return err
	}
	for _, ref := range held {
		v.persons[ref] = true
	}
	all, elsewhere, pictures := slices.Sorted(maps.Keys(v.persons)), 0, 0
	for i, ref := range all {
		v.tell(i+1, len(all))
		_, err := v.study.folder.Erasable.Get(ctx, ref)
		var absent *AbsentError
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, ErrErased):
			v.doc.Erased++
		case errors.As(err, &absent) && !v.persons[ref] && v.attached[ref]:
			pictures++
		case errors.As(err, &absent) && !v.persons[ref]:
			elsewhere++
		case err != nil:
			v.differs("%v", err)
		default:
			v.doc.Files++
		}
	}
	for _, away := range []struct {
		n         int
		one, many string
	}{{elsewhere, "name", "names"}, {pictures, "photo or voice note", "photos and voice notes"}} {
		if away.n > 0 {
			v.doc.Notes = append(v.doc.Notes, fmt.Sprintf("%s of which only entries of other devices speak %s not here: they lie on those devices until they are sent (or in a backup, where this is a copy of the study)",
				counted(away.n, away.one, away.many), map[bool]string{true: "is", false: "are"}[away.n == 1]))
		}
	}
	notHere, err := v.study.NotHere(ctx)
	if len(notHere) > 0 {
		v.doc.Notes = append(v.doc.Notes, notHereWords(notHere))
	}
	return err
}

// schedule checks every sealed schedule against its seal, and what was opened
// of it against its commitments.
func (v *verifier) schedule(ctx context.Context) error {
	states, err := v.study.folder.Journal.States(ctx, study.KindSeal)
	if err != nil {
		return err
	}
	openings, err := v.study.openings(ctx)
	if err != nil {
		return err
	}
	all, err := v.study.seals(gatherStates(0, states))
	if err != nil {
		v.differs("%v", err)
		return nil
	}
	for i := range all {
		doc := all[i].doc
		if all[i].inForce {
			if doc, err = all[i].opened(openings); err != nil {
				v.differs("%v", err)
				continue
			}
		}
		for _, what := range CheckSchedule(doc) {
			v.differs("%s: %s", all[i].state.ID, what)
		}
	}
	return nil
}

// storage asks the store what it finds wrong in itself, the guarded part and
// the originals of imports among it: it checks those without showing them.
func (v *verifier) storage(ctx context.Context) error {
	wrong, err := v.study.folder.Check(ctx, true, v.tell)
	if err != nil {
		return err
	}
	for _, what := range wrong {
		v.differs("%s", what)
	}
	return nil
}

// DamagedDocument says of a study that could not be opened what is wrong.
func DamagedDocument(program Program, study string, damaged *DamagedError) VerifyDocument {
	doc := newVerifyDocument(program, study)
	doc.Differences = append(doc.Differences, damaged.What...)
	doc.Checked = append(doc.Checked, VerifiedPart{Part: "storage", Differences: len(damaged.What)})
	return doc
}

func newVerifyDocument(program Program, study string) VerifyDocument {
	return VerifyDocument{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: map[string]string{}, Warnings: []string{}},
		Study:   study, Devices: []DeviceChain{}, Differences: []string{}, Notes: []string{}, Checked: []VerifiedPart{},
	}
}
