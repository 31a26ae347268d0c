package app

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// dossierFacts are what a study recorded beside its season. While active pairs are
// sealed nothing in them tells a role: they come of views that obey the right, and
// of records that never tell one.
func (s *Study) dossierFacts(ctx context.Context, raw *dossierRaw) (dossier.Facts, error) {
	f := dossier.Facts{Format: Format}
	if raw.data.Study != nil && len(raw.data.Faults) == 0 {
		f = seasonFacts(raw.data.Study)
	}
	for _, step := range []func(context.Context, *dossierRaw, *dossier.Facts) error{
		s.journalFacts, s.questionFacts, s.rigFacts, s.calibrationFacts, s.backgroundFacts, s.scheduleFacts, s.footageFacts, s.deckFacts,
	} {
		if err := step(ctx, raw, &f); err != nil {
			return f, err
		}
	}
	return f, ctx.Err()
}

// seasonFacts is what a season folder tells beside its tables.
func seasonFacts(s *study.Study) dossier.Facts {
	return dossier.Facts{
		Format: Format, Scorers: scorerFacts(s),
		Place: dossier.PlaceFacts{Latitude: known(s.Site.LatitudeDeg, 1), Longitude: known(s.Site.LongitudeDeg, 1), Name: s.Site.Name},
	}
}

// scorerFacts count the passes that each person scored, in order of first
// appearance.
func scorerFacts(s *study.Study) []dossier.ScorerFact {
	var out []dossier.ScorerFact
	of := func(who string) *dossier.ScorerFact {
		i := slices.IndexFunc(out, func(f dossier.ScorerFact) bool { return f.Who == who })
		if i < 0 {
			i, out = len(out), append(out, dossier.ScorerFact{Who: who})
		}
		return &out[i]
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		if p.Scorer != "" {
			of(p.Scorer).Passes++
		}
		if p.SecondScorer != "" {
			of(p.SecondScorer).Second++
		}
	}
	return out
}

// journalFacts is how far each device's chain goes.
func (s *Study) journalFacts(ctx context.Context, _ *dossierRaw, f *dossier.Facts) error {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return err
	}
	j := &dossier.JournalFacts{Entries: head.Entries, To: stampText(head.LastWall, zone), Devices: []dossier.DeviceFact{}}
	site, err := s.folder.Journal.States(ctx, study.KindStudy)
	if err != nil {
		return err
	}
	if len(site) > 0 { // a study begins with what it is about
		first, err := s.folder.Journal.Entry(ctx, site[0].First)
		if err != nil {
			return err
		}
		j.From = stampText(first.Wall, zone)
	}
	for _, device := range mapKeys(head.Devices) {
		h := head.Devices[device]
		j.Devices = append(j.Devices, dossier.DeviceFact{Device: device, Entries: h.Seq, Head: h.Hash.String()})
	}
	f.Journal = j
	return nil
}

// questionFacts are protocol, permits with what was counted against them, and
// cautions.
func (s *Study) questionFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	q, err := s.Question(ctx)
	if err != nil {
		return err
	}
	p := q.Protocol
	f.Protocol = dossier.ProtocolFacts{
		Method: p["method"], Start: p["start"], End: p["end"], Hypotheses: p["hypotheses"], Criteria: p["criteria"],
		StoppingRule: p["stopping_rule"], AnalysisPlan: p["analysis_plan"],
	}
	for _, permit := range q.Permits {
		w := permit.Fields
		fact := dossier.PermitFact{
			What: w["what"], Authority: w["authority"], Number: w["number"], ValidFrom: w["valid_from"], ValidTo: w["valid_to"],
			AnimalsMost: numberIn(w["animals_most"]), HoursMost: numberIn(w["hours_most"]), Note: w["note"],
		}
		for _, state := range raw.data.current.standing(study.KindCount) {
			if state.Fields["permit"] == permit.ID {
				addTo(&fact.Animals, numberIn(state.Fields["animals"]))
				addTo(&fact.Hours, numberIn(state.Fields["hours"]))
			}
		}
		f.Permits = append(f.Permits, fact)
	}
	for _, group := range q.Cautions {
		for _, c := range group.Cautions {
			f.Cautions = append(f.Cautions, dossier.CautionFact{About: group.About, Text: c.Caution, Rests: c.Rests, Ticked: c.Ticked, Note: c.Note})
		}
	}
	return nil
}

// numberIn is the finite number that a field holds, or nil.
func numberIn(text string) *float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		return nil
	}
	return finite(v)
}

func addTo(sum **float64, v *float64) {
	if v == nil {
		return
	}
	total := *v
	if *sum != nil {
		total += **sum
	}
	*sum = &total
}

// rigFacts are the rig as it was saved, worked out, and what was measured of it. A
// rig that cannot be worked out is as good as none.
func (s *Study) rigFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	bench, err := s.bench(ctx, raw.data.current)
	if err != nil {
		return err
	}
	for _, b := range bench {
		f.Bench = append(f.Bench, dossier.BenchFact{
			Date: b.Date, Position: b.Position, Pair: b.Pair, CurrentUA: b.CurrentUA, SilentUA: b.SilentUA, WaterSPM: b.WaterSPerM, Note: b.Note,
		})
	}
	text, err := s.savedSpec(ctx, raw, study.KindRig)
	if err != nil || text == "" {
		return err
	}
	spec, err := readRigSpec(text)
	if err != nil {
		return nil // told on the page Rig
	}
	d, err := workOutRig(ctx, &spec, "spec", []byte(text), s.options.Analyse.Seed, s.options.Program)
	if err != nil {
		return ctx.Err()
	}
	r := &dossier.RigFacts{Supply: supplyWords(&spec, &d), Cable: cableWords(&spec, &d), Electrodes: electrodeWords(&spec), Safety: []string{d.Safety.Text}, Methods: d.Methods}
	for _, p := range d.Positions {
		one := dossier.RigPosition{Label: p.Label, NominalUA: p.NominalUA}
		for i, c := range p.Currents {
			if i == 0 || c.DrawnUA[0] < one.LowUA {
				one.LowUA = c.DrawnUA[0]
			}
			if i == 0 || c.DrawnUA[1] > one.HighUA {
				one.HighUA = c.DrawnUA[1]
			}
		}
		r.Positions = append(r.Positions, one)
	}
	f.Rig = r
	return nil
}

// savedSpec is the text that a study keeps of a kind, or "".
func (s *Study) savedSpec(ctx context.Context, raw *dossierRaw, kind study.Kind) (string, error) {
	fields, err := s.fields(ctx, raw.data.current, recordName{kind: kind})
	return fields["spec"], err
}

func supplyWords(spec *RigSpec, d *RigDocument) string {
	var parts []string
	switch {
	case spec.Supply.CurrentUA != nil && d.Supply.VoltageV == nil:
		parts = append(parts, fmt.Sprintf("a supply of constant current, up to %.4g µA", *spec.Supply.CurrentUA))
	case d.Supply.VoltageV != nil:
		parts = append(parts, fmt.Sprintf("a battery of %.4g V", *d.Supply.VoltageV))
		if d.Supply.InternalOhm != nil {
			parts = append(parts, fmt.Sprintf("with %.4g Ω inside", *d.Supply.InternalOhm))
		}
	default:
		parts = append(parts, "a supply of constant current")
	}
	if len(d.Supply.LimitingOhm) > 0 {
		parts = append(parts, "limiting resistors "+strings.Join(d.Supply.LimitingOhm, " and ")+" at the supply")
	}
	return strings.Join(parts, ", ")
}

func cableWords(spec *RigSpec, d *RigDocument) string {
	return fmt.Sprintf("%.4g m of cable to each pair, %.3g Ω a core (%s)", spec.Cable.LengthM, d.Cable.LegOhm, d.Cable.From)
}

func electrodeWords(spec *RigSpec) string {
	where := "hanging in the water"
	if spec.Electrodes.On == "plate" {
		where = "on an insulating plate"
	}
	var diameters []float64
	for i := range spec.Pairs {
		diameters = append(diameters, spec.Pairs[i].ElectrodeDiameterM*1000)
	}
	if len(diameters) == 0 {
		return fmt.Sprintf("each a %s %s", spec.Electrodes.Shape, where)
	}
	low, high := slices.Min(diameters), slices.Max(diameters)
	size := fmt.Sprintf("%.4g mm", low)
	if high > low {
		size = fmt.Sprintf("%.4g to %.4g mm", low, high)
	}
	return fmt.Sprintf("%s across, each a %s %s", size, spec.Electrodes.Shape, where)
}
