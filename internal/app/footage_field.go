package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/footage"
	"brinefield/core/study"
)

// onceFields are fields that are solved once, for all who ask. The rest is read once
// done is closed.
type onceFields struct {
	done   chan struct{}
	fields *exposure.Fields
	err    error
}

// fieldAlong is the field along the track that fixes make, without the rest of the
// season: densely, smoothed where the analysis smooths, as an exposure takes it.
// While the trial is sealed it is the phantom field of each µA alone, for which
// nothing of the trial's allocation is read.
func (s *Study) fieldAlong(ctx context.Context, a *Assembled, m *measured, l *located) ([]TrackPoint, string, error) {
	none := []TrackPoint{}
	if why := m.noTrack(l); why != "" {
		return none, why, nil
	}
	bare := make([]TrackPoint, len(l.rows))
	for i, r := range l.rows {
		bare[i] = TrackPoint{TimeS: r.TimeS, XCm: r.XCm, YCm: r.YCm, HeightCm: known(r.HeightCm, 1)}
	}
	if len(a.Faults) > 0 {
		return bare, "The study has faults: the field is worked out once they are mended.", nil
	}
	i := passIndex(a.Study, m.pass)
	if i < 0 {
		return bare, "The pass cannot be read.", nil
	}
	one := onePass(a.Study, i, l)
	water, _, _, err := waterByTrial(one)
	if err != nil {
		return bare, sentence(err), nil
	}
	fields, err := s.fieldsFor(ctx, one, water)
	if err != nil {
		if ctx.Err() != nil {
			return none, "", ctx.Err()
		}
		return bare, sentence(err), nil
	}
	sealed := one.Trials[0].Sealed || !a.right.Sees(one.Trials[0].ID)
	if sealed {
		trace, err := exposure.AlongUnit(one, fields, 0)
		if err != nil {
			return bare, sentence(err), nil
		}
		out := make([]TrackPoint, len(trace.TimeS))
		for i, t := range trace.TimeS {
			out[i] = TrackPoint{
				TimeS: t, XCm: trace.XM[i] * 100, YCm: trace.YM[i] * 100, HeightCm: finite(trace.HeightM[i] * 100),
				PerUA: finite(trace.PhantomVPerMPerA[i] * nVPerCmPerUA),
			}
		}
		return out, "", nil
	}
	trace, err := exposure.Along(one, fields, 0, exposure.Options{TreatOldAsExact: s.options.Analyse.TreatOldAsExact})
	if err != nil {
		return bare, sentence(err), nil
	}
	out := make([]TrackPoint, len(trace.TimeS))
	for i, t := range trace.TimeS {
		out[i] = TrackPoint{
			TimeS: t, XCm: trace.XM[i] * 100, YCm: trace.YM[i] * 100, HeightCm: finite(trace.HeightM[i] * 100),
			Field: finite(trace.FieldVPerM[i] * nVPerCmPerVPerM), Phantom: finite(trace.PhantomVPerM[i] * nVPerCmPerVPerM),
		}
	}
	return out, "", nil
}

// onePass is a study of one pass and its trial, with the track that fixes make.
func onePass(st *study.Study, pass int, l *located) *study.Study {
	one := *st
	p := st.Passes[pass]
	one.Trials = []study.Trial{st.Trials[p.Trial]}
	p.Trial = 0
	p.OnsetS, p.WatchedS = study.Opt[float64]{}, study.Opt[float64]{}
	if t := l.since(l.onset); t != nil && p.Turned == study.Yes {
		p.OnsetS = study.Some(*t)
	}
	if t := l.since(l.end); t != nil {
		p.WatchedS = study.Some(*t)
	}
	one.Passes = []study.Pass{p}
	one.Tracks = []study.Track{footage.Track(l.rows, 0)}
	one.Clips, one.Individuals = nil, nil
	if at := one.Analysis.FieldAt; at != "" && at != "largest" {
		named := false
		for _, point := range one.Tracks[0].Points {
			named = named || point.Name == at
		}
		if !named {
			one.Analysis.FieldAt = "" // the picture shows what is there; the exposure says that its point is missing
		}
	}
	return &one
}

// fieldsFor are the fields of a study of one trial, from those that were solved
// before where water, pairs, plates and region are the same. What was drawn for the
// trial does not come into it.
func (s *Study) fieldsFor(ctx context.Context, one *study.Study, water []exposure.TrialWater) (*exposure.Fields, error) {
	reach, highest := reachOf(one)
	trial := one.Trials[0]
	trial.ActivePairs, trial.CurrentA, trial.CurrentBeforeA, trial.CurrentAfterA = nil, study.Opt[float64]{}, study.Opt[float64]{}, study.Opt[float64]{}
	trial.ID, trial.Sealed = "", true
	shape := *one
	shape.Trials, shape.Tracks, shape.Passes = []study.Trial{trial}, nil, nil
	var tank study.Enclosure
	if one.Enclosure != nil {
		tank = *one.Enclosure
	}
	key := fmt.Sprintf("%v|%v|%v|%v|%v|%v|%v|%v|%v|%v|%v", water, one.Pairs, one.Plates, one.Bottom, one.Enclosure != nil, tank, one.Site.DepthM, one.Analysis.HeightHighM,
		strings.Join([]string{trial.Plate, fmt.Sprint(trial.SandOverPlateM), fmt.Sprint(trial.TideM)}, "|"), reach, highest)
	held := s.solving(key, &shape, water, exposure.FieldOptions{
		ReachM: reach, HighestM: highest, Workers: runtime.GOMAXPROCS(0), Stop: func() bool { return s.options.Background.Err() != nil },
	})
	patience := time.NewTimer(fieldPatience)
	defer patience.Stop()
	select {
	case <-held.done:
		return held.fields, held.err
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-patience.C:
		return nil, errFieldPending
	}
}

// fieldPatience is how long an answer waits for a field that nobody has asked for
// before. Plates take some seconds, and the places of fixes are known at once.
const fieldPatience = 1500 * time.Millisecond

var errFieldPending = errors.New("the field of this water, these pairs and plates is being worked out for the first time: it takes some seconds")

// solving finds fields, or begins to solve them beside everything else.
func (s *Study) solving(key string, shape *study.Study, water []exposure.TrialWater, opt exposure.FieldOptions) *onceFields {
	w := &s.worked
	w.mu.Lock()
	defer w.mu.Unlock()
	if held := w.fields[key]; held != nil {
		return held
	}
	held := &onceFields{done: make(chan struct{})}
	if w.fields == nil || len(w.fields) >= mostFields {
		w.fields = map[string]*onceFields{}
	}
	w.fields[key] = held
	go func() {
		defer close(held.done)
		held.fields, held.err = exposure.NewFields(shape, water, opt)
		if held.err != nil { // the next who asks tries again
			w.mu.Lock()
			defer w.mu.Unlock()
			if w.fields[key] == held {
				delete(w.fields, key)
			}
		}
	}()
	return held
}

// reachOf is how far the track is from the pairs and how high, in steps, so that a
// track that grows by a fix asks for the same fields.
func reachOf(one *study.Study) (reachM, highestM float64) {
	reachM, highestM = 1, 0.5
	for _, point := range one.Tracks[0].Points {
		for _, f := range point.Fixes {
			for i := range one.Pairs {
				p := &one.Pairs[i]
				reachM = math.Max(reachM, math.Hypot(f.XM-p.CentreXM, f.YM-p.CentreYM)+p.SeparationM)
			}
			highestM = math.Max(highestM, math.Max(f.HeightM.Or(0), f.HeightHighM.Or(0)))
		}
	}
	return math.Min(math.Pow(2, math.Ceil(math.Log2(reachM))), 50), math.Min(math.Pow(2, math.Ceil(math.Log2(highestM))), 50)
}

// sentence is an error as a page shows it.
func sentence(err error) string {
	text := strings.TrimPrefix(err.Error(), "exposure: ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}
