package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// Most that the page lists of each.
const (
	mostListed       = 1000
	mostListedPasses = 200
)

// DeckLog is what came in from the deck, as far as it may be seen.
func (s *Study) DeckLog(ctx context.Context) (DeckLogView, error) {
	l := deckLogged{study: s, view: DeckLogView{
		ReadOnly: s.folder.ReadOnly, Devices: []DeckDevice{}, Same: []DeckSame{}, Events: []DeckEvent{}, Checks: []DeckCheck{}, Readings: []DeckReading{},
		Counts: []DeckCount{}, Attachments: []DeckAttachment{}, Passes: []DeckPass{}, Warnings: []string{},
	}}
	var err error
	if l.right, err = s.right(ctx); err != nil {
		return l.view, err
	}
	if l.current, err = s.current(ctx); err != nil {
		return l.view, err
	}
	for _, step := range []func(context.Context) error{l.passes, l.devices, l.same, l.records, l.readings, l.attachments, l.warnings} {
		if err := step(ctx); err != nil {
			return l.view, err
		}
	}
	return l.view, nil
}

// deckLogged is the view while it is filled.
type deckLogged struct {
	study    *Study
	view     DeckLogView
	right    Right
	current  *standingRecords
	own      string
	of       map[string]loggedPass // by pass
	count    map[string]int        // passes by device
	aligned  map[string]int
	notHere  int
	unlisted []string
}

// newest gives the records of a kind that stand, the newest first, as many as the
// page lists.
func (l *deckLogged) newest(kind study.Kind) []journal.State {
	all := l.current.standing(kind)
	slices.Reverse(all)
	if len(all) > mostListed {
		l.unlisted = append(l.unlisted, fmt.Sprintf("of %d records of kind %s the newest %d are listed", len(all), kind, mostListed))
	}
	return all[:min(len(all), mostListed)]
}

func (l *deckLogged) passes(ctx context.Context) error {
	head, err := l.study.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	l.own, l.of, l.count, l.aligned = head.Device, map[string]loggedPass{}, map[string]int{}, map[string]int{}
	if len(head.Devices) < 2 {
		return nil
	}
	all := l.current.standing(study.KindPass)
	for i := range slices.Backward(all) {
		st := &all[i]
		p, err := l.study.logged.of(ctx, l.study, st)
		if err != nil {
			return err
		}
		l.of[st.ID] = p
		l.count[p.device]++
		if p.aligned {
			l.aligned[p.device]++
		}
		if ofTablet(p.device) && len(l.view.Passes) < mostListedPasses {
			shown, err := l.pass(ctx, st)
			if err != nil {
				return err
			}
			l.view.Passes = append(l.view.Passes, shown)
		}
	}
	return nil
}

func (l *deckLogged) pass(ctx context.Context, st *journal.State) (DeckPass, error) {
	r, err := l.study.people.clear(ctx, st.Record)
	return DeckPass{Pass: st.ID, Device: l.of[st.ID].device, Fields: publicFields(r.Fields)}, err
}

func (l *deckLogged) devices(ctx context.Context) error {
	head, err := l.study.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	zone, err := l.study.zone(ctx)
	if err != nil {
		return err
	}
	for _, device := range slices.Sorted(maps.Keys(head.Devices)) {
		h := head.Devices[device]
		d := DeckDevice{
			Device: device, Entries: h.Seq, Here: device == l.own, Last: stampText(h.Wall, zone), Passes: l.count[device],
			Aligned: l.count[device] > 0 && l.aligned[device] == l.count[device],
		}
		clock := l.current.state(recordName{study.KindClock, device})
		if offset, ok := offsetOf(clock); ok {
			d.OffsetS, d.Stated = &offset, clock.Fields["stated"]
		}
		l.view.Devices = append(l.view.Devices, d)
	}
	return nil
}

func (l *deckLogged) same(ctx context.Context) error {
	found, err := l.study.samePasses(ctx, l.current)
	if err != nil {
		return err
	}
	for _, f := range found {
		same := DeckSame{ID: pairOfPasses(f.Passes[0].Pass, f.Passes[1].Pass), Trial: f.Trial, Pair: f.Pair, SecondsApart: f.SecondsApart}
		for i, p := range f.Passes {
			st := l.current.state(recordName{study.KindPass, p.Pass})
			if same.Passes[i], err = l.pass(ctx, st); err != nil {
				return err
			}
		}
		same.Differ = differing(same.Passes[0].Fields, same.Passes[1].Fields)
		l.view.Same = append(l.view.Same, same)
	}
	return nil
}

// differing are the names of fields that differ, in order.
func differing(a, b map[string]string) []string {
	out := []string{}
	for name := range a {
		if a[name] != b[name] {
			out = append(out, name)
		}
	}
	for name := range b {
		if _, both := a[name]; !both && b[name] != "" {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// records are events, checks and counts.
func (l *deckLogged) records(ctx context.Context) error {
	for _, st := range l.newest(study.KindEvent) {
		by, err := l.study.people.name(ctx, st.Fields["by"])
		if err != nil {
			return err
		}
		f := st.Fields
		l.view.Events = append(l.view.Events, DeckEvent{ID: st.ID, What: f["what"], Trial: f["trial"], Time: f["time"], Animal: f["animal"], Text: f["text"], By: by})
	}
	slices.SortStableFunc(l.view.Events, func(a, b DeckEvent) int { return cmpBool(b.What == "adverse", a.What == "adverse") })
	for _, st := range l.newest(study.KindCheck) {
		by, err := l.study.people.name(ctx, st.Fields["by"])
		if err != nil {
			return err
		}
		f := st.Fields
		l.view.Checks = append(l.view.Checks, DeckCheck{ID: st.ID, Trial: f["trial"], Check: f["check"], State: f["state"], Time: f["time"], By: by, Note: f["note"]})
	}
	for _, st := range l.newest(study.KindCount) {
		by, err := l.study.people.name(ctx, st.Fields["by"])
		if err != nil {
			return err
		}
		f, counted := st.Fields, countOf(st.Fields)
		l.view.Counts = append(l.view.Counts, DeckCount{
			ID: st.ID, Permit: f["permit"], Trial: f["trial"], Time: f["time"], Species: f["species"], By: by, Note: f["note"],
			Animals: intOf(f["animals"], counted.Animals), Hours: finiteOf(f["hours"], counted.Hours),
		})
	}
	return nil
}

// intOf and finiteOf are a number where one was written down.
func intOf(text string, n int) *int {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return &n
}

func finiteOf(text string, v float64) *float64 {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return finite(v)
}

func (l *deckLogged) readings(ctx context.Context) error {
	states := l.newest(study.KindReading)
	elsewhere := refsOfOthers(states, l.right)
	for i := range states {
		st := &states[i]
		f := st.Fields
		by, err := l.study.people.name(ctx, f["by"])
		if err != nil {
			return err
		}
		r := DeckReading{ID: st.ID, Trial: f["trial"], When: f["when"], Time: f["time"], By: by, Sealed: true}
		if l.right.Sees(r.Trial) && !elsewhere[f[refField]] {
			ours, err := l.study.alwaysSeen(ctx, st, l.right)
			if err != nil {
				return err
			}
			r.Sealed = !ours
		}
		if r.Sealed {
			if r.Here, err = l.study.thingHere(ctx, f[refField], thingGuarded); err != nil {
				return err
			}
		} else {
			text, here, err := l.study.readingHere(ctx, l.right, f[refField])
			if err != nil {
				return err
			}
			if r.Here = here; readable(text) {
				v, _ := strconv.ParseFloat(text, 64)
				r.CurrentUA = finite(v)
			}
		}
		l.view.Readings = append(l.view.Readings, r)
	}
	return nil
}

// States of a photo or a voice note.
const (
	attachmentHere    = "here"
	attachmentNotHere = "not here yet"
	attachmentErased  = "erased"
)

func (l *deckLogged) attachments(ctx context.Context) error {
	states := l.newest(study.KindAttachment)
	if len(states) == 0 {
		return nil
	}
	held, err := l.study.folder.Erasable.Refs(ctx) // names of files: nothing is read
	if err != nil {
		return err
	}
	here := make(map[string]bool, len(held))
	for _, ref := range held {
		here[ref] = true
	}
	for _, st := range states {
		f := st.Fields
		by, err := l.study.people.name(ctx, f["by"])
		if err != nil {
			return err
		}
		a := DeckAttachment{ID: st.ID, Ref: f[refField], Kind: f["kind"], About: f["about"], Type: f["type"], Time: f["time"], By: by, State: attachmentHere}
		a.Bytes, _ = strconv.Atoi(f["bytes"])
		if !here[a.Ref] {
			if a.State, err = l.study.attachmentAway(ctx, a.Ref); err != nil {
				return err
			}
		}
		if a.State == attachmentNotHere {
			l.notHere++
		}
		l.view.Attachments = append(l.view.Attachments, a)
	}
	return nil
}

// attachmentAway tells erased from not sent yet.
func (s *Study) attachmentAway(ctx context.Context, ref string) (string, error) {
	if !isRef(ref) {
		return attachmentNotHere, nil
	}
	_, err := s.folder.Erasable.Get(ctx, ref)
	switch {
	case errors.Is(err, ErrErased):
		return attachmentErased, nil
	case isAbsent(err):
		return attachmentNotHere, nil
	case err == nil:
		return attachmentHere, nil // came in this moment
	}
	return "", err
}

func (l *deckLogged) warnings(ctx context.Context) error {
	w := l.view.Warnings
	if l.notHere > 0 {
		w = append(w, fmt.Sprintf("%s not here yet: their tablets have not sent them", counted(l.notHere, "photo or voice note is", "photos and voice notes are")))
	}
	waiting := 0
	for _, r := range l.view.Readings {
		if !r.Here {
			waiting++
		}
	}
	if waiting > 0 {
		w = append(w, fmt.Sprintf("%s not here yet: their tablets have not sent them", counted(waiting, "current that was read is", "currents that were read are")))
	}
	for i := range l.view.Devices {
		d := &l.view.Devices[i]
		if d.OffsetS != nil && !d.Aligned && d.Passes > 0 && (*d.OffsetS > clockMovedS || *d.OffsetS < -clockMovedS) {
			w = append(w, fmt.Sprintf("the clock of device %s is %s s ahead of this laptop's, and the times of its passes are not all corrected by it", d.Device, offsetText(*d.OffsetS)))
		}
	}
	notHere, err := l.study.NotHere(ctx)
	if err != nil {
		return err
	}
	if len(notHere) > 0 {
		w = append(w, notHereWords(notHere))
	}
	read, err := l.study.readingsWarned(ctx)
	l.view.Warnings = append([]string{}, slices.Concat(w, read, l.unlisted)...) // a list also where it is empty
	return err
}
