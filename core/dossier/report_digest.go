package dossier

import (
	"math"
	"slices"
	"strings"
	"time"

	"brinefield/core/study"
)

// digest is what the texts count in an input, once.
type digest struct {
	in Input
	s  *study.Study // never nil

	zone        *time.Location
	first, last time.Time // of trials; zero where there is none

	trials, driven, silent, sealed int
	several                        int      // driven trials with more than one active pair
	nominal                        []string // currents of driven trials as stated, µA, each once, rising
	measured                       int      // driven trials with a current measured before or after
	measuredUA                     extent
	offNominal                     extent // measured over stated current, less one
	waveforms                      []string

	passes, scored, used, leftOut int
	reasons                       []reasonCount
	active, control, atSilent     int // passes by role
	tracks, withOnset, clips      int
	identified, unidentified      int // animals, and passes of animals that were not recognised
	species                       []speciesCount
	scorers, observers            int
	water                         extent
	waterFrom                     []string
	headHeights                   extent // cm, of passes that turned
}

// reasonCount is why passes have no part in the estimates.
type reasonCount struct {
	why string
	n   int
}

// speciesCount is what was seen of one species.
type speciesCount struct {
	name                  string
	passes, turns         int
	animals, unidentified int
	sexed, females, males int
	lengthCm, discCm      extent
}

func digestOf(in Input) *digest {
	d := &digest{in: in, s: in.Study}
	if d.s == nil {
		d.s = &study.Study{}
	}
	d.zone = d.s.Site.Zone
	d.countTrials()
	d.countPasses()
	d.countExposures()
	for i := range in.Waters {
		d.water.add(in.Waters[i].SPerM)
		if from := tidy(in.Waters[i].From); from != "" && !slices.Contains(d.waterFrom, from) {
			d.waterFrom = append(d.waterFrom, from)
		}
	}
	return d
}

// at is a time in the site's zone.
func (d *digest) at(t time.Time) time.Time {
	if d.zone != nil {
		return t.In(d.zone)
	}
	return t
}

func (d *digest) allSealed() bool { return d.sealed > 0 && d.sealed >= d.trials }

// estimated reports whether there are estimates that may be shown.
func (d *digest) estimated() bool {
	f := &d.in.Findings
	return !d.allSealed() && len(f.Detection)+len(f.Thresholds)+len(f.Preference)+len(f.Descriptive) > 0
}

func (d *digest) countTrials() {
	values := map[string]float64{}
	waveforms, observers := map[string]bool{}, map[string]bool{}
	for i := range d.s.Trials {
		t := &d.s.Trials[i]
		d.trials++
		if d.first.IsZero() || t.Start.Before(d.first) {
			d.first = t.Start
		}
		if t.End.After(d.last) {
			d.last = t.End
		}
		if o := tidy(t.Observers); o != "" {
			observers[o] = true
		}
		switch {
		case t.Sealed:
			d.sealed++ // nothing of its stimulus is read: it could tell
			continue
		case t.Silent():
			d.silent++
			continue
		}
		d.driven++
		if len(t.ActivePairs) > 1 {
			d.several++
		}
		if w := tidy(t.Waveform); w != "" && !waveforms[w] {
			waveforms[w] = true
			d.waveforms = append(d.waveforms, w)
		}
		d.current(t, values)
	}
	d.observers = len(observers)
	d.nominal = keysByValue(values)
	slices.Sort(d.waveforms)
	d.sealed = max(d.sealed, min(d.in.Sealed, d.trials))
}

func (d *digest) current(t *study.Trial, values map[string]float64) {
	if t.CurrentA.Known {
		ua := math.Abs(t.CurrentA.Value) * 1e6
		values[setValue(ua)] = ua
	}
	if !t.CurrentBeforeA.Known && !t.CurrentAfterA.Known {
		return
	}
	mean, ok := t.DrivenCurrentA()
	if !ok {
		return
	}
	d.measured++
	d.measuredUA.add(math.Abs(mean) * 1e6)
	if t.CurrentA.Known && t.CurrentA.Value != 0 {
		d.offNominal.add(math.Abs(mean/t.CurrentA.Value) - 1)
	}
}

func keysByValue(values map[string]float64) []string {
	keys := make([]string, 0, len(values))
	for k := range values {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return strings.Compare(a, b)
	})
	return keys
}

func (d *digest) countPasses() {
	at := map[string]int{}
	for i := range d.s.Species {
		at[d.s.Species[i].Name] = len(d.species)
		d.species = append(d.species, speciesCount{name: d.s.Species[i].Name})
	}
	animals := map[string]bool{}
	scorers := map[string]bool{}
	for i := range d.s.Passes {
		p := &d.s.Passes[i]
		d.passes++
		if p.Scored() {
			d.scored++
		}
		if p.OnsetS.Known {
			d.withOnset++
		}
		if p.Clip != "" {
			d.clips++
		}
		if name := tidy(p.Scorer); name != "" {
			scorers[name] = true
		}
		if p.Species < 0 || p.Species >= len(d.species) {
			continue
		}
		c := &d.species[p.Species]
		c.passes++
		if p.Responded() {
			c.turns++
		}
		switch key := c.name + "\x00" + p.Individual; {
		case p.Individual == "":
			c.unidentified++
			d.unidentified++
		case !animals[key]:
			animals[key] = true
			c.animals++
			d.identified++
			c.measure(d.individual(p.Individual), p)
		}
	}
	d.scorers = len(scorers)
	d.tracks = len(d.s.Tracks)
}

func (d *digest) individual(id string) *study.Individual {
	for i := range d.s.Individuals {
		if d.s.Individuals[i].ID == id {
			return &d.s.Individuals[i]
		}
	}
	return &study.Individual{}
}

// measure takes the sex and the size of an animal from where animals are listed,
// else from its first pass.
func (c *speciesCount) measure(a *study.Individual, p *study.Pass) {
	sex := strings.ToLower(tidy(a.Sex))
	if sex == "" {
		sex = strings.ToLower(tidy(p.Sex))
	}
	switch {
	case sex == "f" || strings.HasPrefix(sex, "fem"):
		c.sexed, c.females = c.sexed+1, c.females+1
	case sex == "m" || sex == "male" || sex == "males":
		c.sexed, c.males = c.sexed+1, c.males+1
	}
	for _, v := range []study.Opt[float64]{a.TotalLengthM, p.TotalLengthM} {
		if v.Known {
			c.lengthCm.add(v.Value * 100)
			break
		}
	}
	for _, v := range []study.Opt[float64]{a.DiscWidthM, p.DiscWidthM} {
		if v.Known {
			c.discCm.add(v.Value * 100)
			break
		}
	}
}

func (d *digest) countExposures() {
	reasons := map[string]int{}
	for i := range d.in.Passes {
		p := &d.in.Passes[i]
		switch {
		case p.Used == nil:
		case *p.Used:
			d.used++
		default:
			d.leftOut++
			why := clause(p.NotUsedBecause)
			if why == "" {
				why = "no reason given"
			}
			reasons[why]++
		}
		switch p.Role {
		case "active":
			d.active++
		case "control":
			d.control++
		case "silent":
			d.atSilent++
		}
		if p.Responded && p.HeightCm != nil {
			d.headHeights.addPointer(p.HeightCm)
		}
	}
	for why, n := range reasons {
		d.reasons = append(d.reasons, reasonCount{why, n})
	}
	slices.SortFunc(d.reasons, func(a, b reasonCount) int {
		if a.n != b.n {
			return b.n - a.n
		}
		return strings.Compare(a.why, b.why)
	})
}
