package app

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"brinefield/core/deck"
	"brinefield/core/study"
)

// Deck is everything that a tablet needs to log without the laptop. It is made
// of what is public: no assignment and no reading is looked at, whatever was
// opened, because what a tablet has kept stays on it.
//
// Errors: [ErrNotAStudy]; [ErrDeckSpec].
func (s *Study) Deck(ctx context.Context) (DeckView, error) {
	caller := CallerOf(ctx)
	v := DeckView{
		Study: s.folder.Name, Invented: s.options.Invented != nil && s.options.Invented(s.folder.Name), ReadOnly: s.folder.ReadOnly,
		NowMS: s.nowMS(), Role: caller.Role,
		Pairs: []DeckPair{}, Species: []DeckSpecies{}, Individuals: []DeckIndividual{}, Trials: []DeckTrial{}, Permits: []DeckPermit{}, People: []DeckPerson{},
	}
	if len(caller.Writes) > 0 {
		v.Device = caller.Writes[0]
	}
	var err error
	if v.Identity, err = s.Identity(ctx); err != nil {
		return v, err
	}
	right, err := s.right(ctx)
	if err != nil {
		return v, err
	}
	current, err := s.standingOf(ctx, deckKinds)
	if err != nil {
		return v, err
	}
	v.Blind, v.Locked, v.Position = !right.Granted(), current.state(lockName) != nil, current.position
	d := deckShown{study: s, current: current, view: &v, passes: map[string]int{}}
	for _, step := range []func(context.Context) error{d.about, d.spec, d.individuals, d.trials, d.permits, d.people} {
		if err := step(ctx); err != nil {
			return v, err
		}
	}
	d.places()
	v.Cautions = untickedCautions(current)
	return v, nil
}

// deckKinds are the kinds that a tablet gets something of: tracks and casts, most of
// a season, and what was measured in footage are none of them.
var deckKinds = slices.DeleteFunc(slices.Clone(readKinds), func(k study.Kind) bool {
	return hasRows(k) || k == study.KindAssignment || k == study.KindReading || slices.Contains(study.FootageKinds, k)
})

// placeKinds are what pairs and species are read of.
var placeKinds = []study.Kind{
	study.KindStudy, study.KindSite, study.KindWater, study.KindBottom, study.KindEnclosure, study.KindPlate, study.KindPair, study.KindSpecies,
}

// deckShown is the view while it is filled.
type deckShown struct {
	study   *Study
	current *standingRecords
	view    *DeckView
	seal    *sealedRecord
	zone    *time.Location
	passes  map[string]int // by trial
}

func (d *deckShown) about(ctx context.Context) error {
	if st := d.current.state(recordName{kind: study.KindStudy}); st != nil {
		d.view.Title = st.Fields["title"]
	}
	if st := d.current.state(recordName{kind: study.KindSite}); st != nil {
		d.view.SiteName = st.Fields["name"]
	}
	var err error
	if d.zone, err = d.study.zone(ctx); err == nil {
		d.view.Zone = d.zone.String()
	}
	return err
}

func (d *deckShown) spec(context.Context) (err error) {
	v := d.view
	if v.Spec, v.SpecWritten, err = deckSpec(d.current); err != nil {
		return err
	}
	if v.ETag, err = deckETag(v.Spec); err != nil {
		return err
	}
	if d.seal, err = d.study.sealInForce(d.current); err == nil && d.seal != nil {
		v.Spec = withTimes(v.Spec, d.seal.times)
	}
	return err
}

// places are the pairs and species as far as the season can be read.
func (d *deckShown) places() {
	var records []study.Record
	for _, kind := range placeKinds {
		for _, state := range d.current.standing(kind) {
			records = append(records, state.Record)
		}
	}
	st := readRecords(records).study // what is missing for a season are faults, which are told elsewhere
	if st == nil {
		return
	}
	for i := range st.Pairs {
		p := &st.Pairs[i]
		x, y, azimuth := finite(p.CentreXM), finite(p.CentreYM), finite(p.AzimuthDeg)
		if p.Label == "" || x == nil || y == nil || azimuth == nil {
			continue
		}
		d.view.Pairs = append(d.view.Pairs, DeckPair{Label: p.Label, XM: *x, YM: *y, AzimuthDeg: *azimuth})
	}
	for i := range st.Species {
		if sp := &st.Species[i]; sp.Name != "" {
			d.view.Species = append(d.view.Species, DeckSpecies{Name: sp.Name, Aliases: append([]string{}, sp.Aliases...)})
		}
	}
}

// individuals are those that are recorded, then those that only passes name.
func (d *deckShown) individuals(context.Context) error {
	at := map[string]int{}
	add := func(id string, fields map[string]string) {
		at[id] = len(d.view.Individuals)
		d.view.Individuals = append(d.view.Individuals, DeckIndividual{ID: id, Species: fields["species"], Sex: fields["sex"], Mark: fields["mark"], Pictures: []string{}})
	}
	for _, st := range d.current.standing(study.KindIndividual) {
		add(st.ID, st.Fields)
	}
	recorded := len(d.view.Individuals)
	last := map[string]string{} // the newest time of a pass, as text of its own
	for _, st := range d.current.standing(study.KindPass) {
		d.passes[st.Fields["trial"]]++
		id := strings.TrimSpace(st.Fields["individual"])
		if id == "" {
			continue
		}
		if _, known := at[id]; !known {
			add(id, map[string]string{"species": st.Fields["species"], "sex": st.Fields["sex"]})
		}
		animal := &d.view.Individuals[at[id]]
		animal.Passes++
		when := ""
		if t, ok := passTime(st.Fields["time"], d.zone); ok {
			when = t.UTC().Format("2006-01-02T15:04:05.000000000")
		}
		if when >= last[id] {
			last[id], animal.LastTrial = when, st.Fields["trial"]
		}
	}
	slices.SortFunc(d.view.Individuals[recorded:], func(a, b DeckIndividual) int { return cmp.Compare(a.ID, b.ID) })
	for i := range d.view.Individuals {
		at[d.view.Individuals[i].ID] = i
	}
	for _, st := range slices.Backward(d.current.standing(study.KindAttachment)) {
		id, ok := strings.CutPrefix(st.Fields["about"], string(study.KindIndividual)+"/")
		if i, known := at[id]; ok && known && st.Fields["kind"] == photoKind && st.Fields[refField] != "" {
			d.view.Individuals[i].Pictures = append(d.view.Individuals[i].Pictures, st.Fields[refField])
		}
	}
	return nil
}

// trials are those of the sealed schedule in force, whose names are public, then
// those beside it.
func (d *deckShown) trials(ctx context.Context) error {
	scheduled := map[string]bool{}
	add := func(t DeckTrial) error {
		t.Fields, t.Passes = map[string]string{}, d.passes[t.Trial]
		if st := d.current.state(recordName{study.KindTrial, t.Trial}); st != nil {
			r, err := d.study.people.clear(ctx, st.Record)
			if err != nil {
				return err
			}
			t.Fields = publicFields(r.Fields)
		}
		d.view.Trials = append(d.view.Trials, t)
		return nil
	}
	if d.seal != nil {
		for i := range d.seal.doc.count() {
			id := d.seal.doc.at(i).Trial
			scheduled[id] = true
			if err := add(DeckTrial{Trial: id, Planned: true, Spare: i >= len(d.seal.doc.Trials)}); err != nil {
				return err
			}
		}
	}
	for _, st := range d.current.standing(study.KindTrial) {
		if !scheduled[st.ID] {
			if err := add(DeckTrial{Trial: st.ID}); err != nil {
				return err
			}
		}
	}
	return nil
}

// publicFields are those of a trial that tell nothing of its active pair, also
// where an entry from elsewhere put such a thing among them.
func publicFields(fields map[string]string) map[string]string {
	out := maps.Clone(fields)
	if out == nil {
		out = map[string]string{}
	}
	for _, name := range study.GuardedFields {
		delete(out, name)
	}
	return out
}

func (d *deckShown) permits(context.Context) error {
	counted := map[string][]deck.Count{}
	for _, st := range d.current.standing(study.KindCount) {
		permit := st.Fields["permit"]
		counted[permit] = append(counted[permit], countOf(st.Fields))
	}
	for _, st := range d.current.standing(study.KindPermit) {
		f, limit := st.Fields, permitLimit(st.Fields)
		tally := deck.Add(counted[st.ID], limit)
		d.view.Permits = append(d.view.Permits, DeckPermit{
			ID: st.ID, What: f["what"], Number: f["number"], ValidFrom: f["valid_from"], ValidTo: f["valid_to"],
			Animals: tally.Animals, AnimalsMost: limit.Animals, Hours: tally.Hours, HoursMost: limit.Hours,
		})
	}
	return nil
}

func (d *deckShown) people(ctx context.Context) error {
	named, err := d.study.people.named(ctx)
	for _, mark := range slices.Sorted(maps.Keys(named)) {
		d.view.People = append(d.view.People, DeckPerson{Name: named[mark], Mark: mark})
	}
	slices.SortStableFunc(d.view.People, func(a, b DeckPerson) int { return cmp.Compare(a.Name, b.Name) })
	return err
}

// untickedCautions counts the cautions of the page Question that nobody ticked.
func untickedCautions(current *standingRecords) int {
	n := 0
	for _, g := range cautionList {
		for _, c := range g.cautions {
			if st := current.state(recordName{study.KindCaution, c.id}); st == nil || st.Fields["ticked"] != "yes" {
				n++
			}
		}
	}
	return n
}
