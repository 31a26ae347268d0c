package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"brinefield/core/season"
	"brinefield/core/study"
)

// OpenSeason is a season folder opened read-only: read at once, analysed in
// the background, and asked for pictures and tables meanwhile. It is safe for
// concurrent use.
type OpenSeason struct {
	name     string
	invented bool
	input    Input
	options  AnalyseOptions
	study    *study.Study
	faults   []season.Fault

	mu       sync.Mutex
	progress ProgressView
	analysis *Analysis
	curves   CurvesView

	uncertain *uncertainOnce
}

// Open reads a season and, if it has no faults, analyses it in the background
// until it is done or ctx ends. The name is shown as the folder's.
func Open(ctx context.Context, name string, in Input, invented bool, opt AnalyseOptions) *OpenSeason {
	o := &OpenSeason{name: name, invented: invented, input: in, options: opt, uncertain: newUncertainOnce()}
	s, err := ReadSeason(in)
	o.study = s
	var faults *FaultsError
	if errors.As(err, &faults) {
		o.faults = faults.Faults
		o.progress = ProgressView{State: "failed", Error: ErrFaults.Error()}
		return o
	}
	o.progress = ProgressView{State: "running", Stage: "Fields"}
	go o.analyse(ctx)
	return o
}

func (o *OpenSeason) analyse(ctx context.Context) {
	defer func() {
		if p := recover(); p != nil {
			o.fail(fmt.Errorf("the analysis broke off, which is a fault of this program: %v", p))
		}
	}()
	opt := o.options
	opt.Progress = func(stage string, done, total int) {
		o.mu.Lock()
		defer o.mu.Unlock()
		o.progress = ProgressView{State: "running", Stage: stage, Done: done, Total: total}
	}
	analysis, err := Analyse(ctx, o.input, o.study, opt)
	if err != nil {
		o.fail(err)
		return
	}
	drawn := curves(analysis.Findings)
	o.mu.Lock()
	defer o.mu.Unlock()
	o.analysis, o.curves = analysis, drawn
	o.progress = ProgressView{State: "done"}
}

func (o *OpenSeason) fail(err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.progress = ProgressView{State: "failed", Error: err.Error()}
}

// Progress says how far the analysis is.
func (o *OpenSeason) Progress() ProgressView {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.progress
}

func (o *OpenSeason) done() (*Analysis, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	switch {
	case o.analysis != nil:
		return o.analysis, nil
	case len(o.faults) > 0:
		return nil, ErrFaults
	case o.progress.State == "failed":
		return nil, errors.New(o.progress.Error)
	}
	return nil, ErrNotReady
}

// Findings are the estimates, without the tables of passes and water, which
// Exposures holds.
func (o *OpenSeason) Findings() (Findings, error) {
	a, err := o.done()
	if err != nil {
		return Findings{}, err
	}
	f := a.Findings
	f.Passes = nil
	return f, nil
}

// Curves are the curves of Findings.
func (o *OpenSeason) Curves() (CurvesView, error) {
	if _, err := o.done(); err != nil {
		return CurvesView{}, err
	}
	return o.curves, nil
}

// Season is the season as it was read.
func (o *OpenSeason) Season() SeasonView {
	v := emptySeasonView(o.options.Program, o.name)
	v.Invented = o.invented
	v.Faults, v.FaultRows = faultViews(o.faults), faultRows(o.input, o.faults)
	if o.study != nil {
		describeStudy(&v, o.study)
	}
	return v
}

func emptySeasonView(program Program, folder string) SeasonView {
	return SeasonView{
		Program: program, Folder: folder,
		Plates: []PlateView{}, Pairs: []PairView{}, Species: []string{}, Individuals: []string{}, Trials: []TrialView{},
		Faults: []FaultView{}, FaultRows: []FaultRows{},
	}
}

func describeStudy(v *SeasonView, s *study.Study) {
	v.Title, v.Question = s.Title, s.Question
	v.SiteName, v.Timezone = s.Site.Name, s.Site.Timezone
	v.WaterText, v.BottomText = waterText(s.Water), bottomText(s.Bottom)
	v.ReactionTimeS, v.PassRadiusCm = known(s.Analysis.ReactionTimeS, 1), s.Analysis.PassRadiusM*100
	v.PassCount, v.StatesUncertainty = len(s.Passes), statesUncertainty(s)
	if e := s.Enclosure; e != nil {
		v.Enclosure = &EnclosureView{
			SizeXCm: e.SizeXM * 100, SizeYCm: e.SizeYM * 100, DiameterCm: known(e.DiameterM, 100),
			CentreXCm: e.CentreXM * 100, CentreYCm: e.CentreYM * 100,
		}
	}
	for i := range s.Plates {
		v.Plates = append(v.Plates, plateView(&s.Plates[i]))
	}
	for _, p := range s.Pairs {
		v.Pairs = append(v.Pairs, PairView{
			Label: p.Label, XCm: p.CentreXM * 100, YCm: p.CentreYM * 100, AzimuthDeg: p.AzimuthDeg,
			SeparationCm: p.SeparationM * 100, HeightCm: p.HeightM * 100,
		})
	}
	for _, sp := range s.Species {
		v.Species = append(v.Species, sp.Name)
	}
	counts := make([]int, len(s.Trials))
	for i := range s.Passes {
		if t := s.Passes[i].Trial; t >= 0 && t < len(counts) {
			counts[t]++
		}
		if name := s.Passes[i].Individual; name != "" {
			v.Individuals = append(v.Individuals, name)
		}
	}
	slices.Sort(v.Individuals)
	v.Individuals = slices.Compact(v.Individuals)
	for i := range s.Trials {
		v.Trials = append(v.Trials, trialView(s, &s.Trials[i], counts[i]))
	}
}

func plateView(p *study.Plate) PlateView {
	v := PlateView{
		Label: p.Label, SizeXCm: p.SizeXM * 100, SizeYCm: p.SizeYM * 100,
		CentreXCm: p.CentreXM * 100, CentreYCm: p.CentreYM * 100, YawDeg: p.YawDeg, ThicknessCm: p.ThicknessM * 100,
	}
	if p.Disc {
		v.DiameterCm = finite(p.DiameterM * 100)
		v.SizeXCm, v.SizeYCm = *v.DiameterCm, *v.DiameterCm
	}
	return v
}

func trialView(s *study.Study, t *study.Trial, passes int) TrialView {
	v := TrialView{Trial: t.ID, Start: t.Start.Format(time.RFC3339), ActivePairs: []string{}, Silent: t.Silent(), Sealed: t.Sealed, Passes: passes}
	for _, p := range t.ActivePairs {
		if p < 0 || p >= len(s.Pairs) { // a label that names no pair is among the faults
			continue
		}
		v.ActivePairs = append(v.ActivePairs, s.Pairs[p].Label)
	}
	if current, ok := t.DrivenCurrentA(); ok && !t.Sealed {
		v.CurrentUA = finite(current * 1e6)
	}
	return v
}

func waterText(w study.Water) string {
	switch w.Kind {
	case study.WaterCompensated:
		return fmt.Sprintf("%.3g S/m at 25 °C, compensated, at %.3g °C", w.ConductivityAt25CSPerM, w.TemperatureC)
	case study.WaterSalinity:
		return fmt.Sprintf("salinity %.3g, %.3g °C", w.Salinity, w.TemperatureC)
	case study.WaterCast:
		return "from the cast"
	}
	return fmt.Sprintf("%.3g S/m", w.ConductivitySPerM)
}

func bottomText(b study.Bottom) string {
	switch {
	case b.Kind == study.BottomInsulating:
		return "insulating"
	case b.ConductivitySPerM.Known:
		return fmt.Sprintf("sediment, %.3g S/m", b.ConductivitySPerM.Value)
	}
	return fmt.Sprintf("sediment, porosity %.3g", b.Porosity.Value)
}

// faultRows are the rows that hold faults, as they stand in the files.
func faultRows(in Input, faults []season.Fault) []FaultRows {
	out := []FaultRows{}
	for _, f := range faults {
		i := slices.IndexFunc(out, func(r FaultRows) bool { return r.File == f.File })
		if i < 0 {
			out = append(out, FaultRows{File: f.File, Header: []string{}, Rows: []FaultRow{}})
			i = len(out) - 1
		}
		if n := len(out[i].Rows); f.Row > 0 && (n == 0 || out[i].Rows[n-1].Row != f.Row) {
			out[i].Rows = append(out[i].Rows, FaultRow{Row: f.Row, Cells: []string{}})
		}
	}
	for i := range out {
		fillRows(&out[i], in[out[i].File])
	}
	return out
}

func fillRows(file *FaultRows, data []byte) {
	if strings.HasSuffix(file.File, ".csv") {
		table := season.Cells(data)
		if len(table) > 0 {
			file.Header = table[0]
		}
		for i := range file.Rows {
			if r := file.Rows[i].Row - 1; r < len(table) {
				file.Rows[i].Cells = table[r]
			}
		}
		return
	}
	lines := bytes.Split(data, []byte{'\n'})
	for i := range file.Rows {
		if r := file.Rows[i].Row - 1; r < len(lines) {
			file.Rows[i].Cells = []string{strings.ToValidUTF8(string(lines[r]), "\uFFFD")}
		}
	}
}
