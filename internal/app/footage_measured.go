package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// measured is what was measured of one pass in a clip, as it stands in its record
// or as a request states it.
type measured struct {
	pass, clip        string
	start, onset, end *int
	heights           FootageHeights
	fixes             []footage.Fix
	people            []string // of by 1, 2, …
	print             string   // of the track that was made of it; "": none was
}

// readMeasured reads a record of fixes with names in the place of references; nil
// is a pass that was not measured.
func readMeasured(pass string, r *study.Record) (*measured, error) {
	m := &measured{pass: pass, heights: FootageHeights{How: footage.ByClass}}
	if r == nil {
		return m, nil
	}
	m.clip, m.print = r.Fields["clip"], r.Fields[trackPrint]
	for _, f := range []struct {
		field string
		into  **int
	}{{"start_frame", &m.start}, {"onset_frame", &m.onset}, {"end_frame", &m.end}} {
		if text := r.Fields[f.field]; text != "" {
			n, err := strconv.Atoi(text)
			if err != nil || n < 0 {
				return m, fmt.Errorf("fixes of pass %s, %s: %q is no frame", pass, f.field, text)
			}
			*f.into = &n
		}
	}
	if text := r.Fields["heights"]; text != "" {
		if err := json.Unmarshal([]byte(text), &m.heights); err != nil {
			return m, fmt.Errorf("fixes of pass %s: where the heights come from cannot be read: %w", pass, err)
		}
	}
	for i := range footage.MostPeople {
		m.people = append(m.people, r.Fields["by_"+strconv.Itoa(i+1)])
	}
	fixes, faults := footage.Parse(r.Table)
	if len(faults) > 0 {
		return m, fmt.Errorf("fixes of pass %s: %s", pass, faults[0])
	}
	m.fixes = fixes
	return m, nil
}

// standingMeasured reads what stands of a pass.
func (s *Study) standingMeasured(ctx context.Context, a *Assembled, pass string) (*measured, error) {
	r, err := s.clearRecord(ctx, a, fixesName(pass))
	if err != nil {
		return nil, err
	}
	return readMeasured(pass, r)
}

func (m *measured) by(i int) string {
	if i < 1 || i > len(m.people) {
		return ""
	}
	return m.people[i-1]
}

// empty reports whether there is nothing to be kept.
func (m *measured) empty() bool {
	return len(m.fixes) == 0 && m.start == nil && m.onset == nil && m.end == nil
}

// record is what is written down; nil where there is nothing.
func (m *measured) record() *study.Record {
	if m.empty() {
		return nil
	}
	r := &study.Record{Kind: study.KindFixes, ID: m.pass, Fields: map[string]string{"clip": m.clip, "heights": jsonText(m.heights)}}
	for field, frame := range map[string]*int{"start_frame": m.start, "onset_frame": m.onset, "end_frame": m.end} {
		if frame != nil {
			r.Fields[field] = strconv.Itoa(*frame)
		}
	}
	for i, name := range m.people {
		if name != "" {
			r.Fields["by_"+strconv.Itoa(i+1)] = name
		}
	}
	if m.print != "" {
		r.Fields[trackPrint] = m.print
	}
	if len(m.fixes) > 0 {
		r.Table = footage.Format(m.fixes)
	}
	return r
}

// printOf stands for a track's rows; "" where there are none.
func printOf(t *study.Table) string {
	if t == nil || len(t.Rows) == 0 {
		return ""
	}
	sum := sha256.Sum256([]byte(jsonText(t)))
	return hex.EncodeToString(sum[:8])
}

// heightsOf is where heights come from, as fixes are located with. faults are what
// cannot be meant; a class that is not chosen yet is none.
func heightsOf(current *standingRecords, h FootageHeights) (footage.Heights, []string) {
	number := func(v *float64) (float64, bool) {
		return statedOr(v, 0), v != nil && finite(*v) != nil && *v >= 0 && *v <= 1e5
	}
	switch h.How {
	case footage.ByClass:
		if h.Class == "" {
			return footage.Heights{}, nil
		}
		for _, c := range heightClasses(current) {
			if c.Name == h.Class {
				return footage.StatedHeights(h.How, c.LowCm/100, c.HighCm/100), nil
			}
		}
		return footage.Heights{}, []string{fmt.Sprintf("the study has no class of height %q (page Deck)", h.Class)}
	case footage.ByLimits:
		low, okLow := number(h.LowCm)
		high, okHigh := number(h.HighCm)
		switch {
		case h.LowCm == nil && h.HighCm == nil:
			return footage.Heights{}, nil
		case !okLow || !okHigh:
			return footage.Heights{}, []string{"one limit of the height is missing or no height: both are centimetres over the plate, 0 or more"}
		case low > high:
			return footage.Heights{}, []string{fmt.Sprintf("the upper limit of the height, %g cm, is below the lower one, %g cm", high, low)}
		}
		return footage.StatedHeights(h.How, low/100, high/100), nil
	case footage.ByWidth, footage.ByLength:
		length, ok := number(h.LengthCm)
		sd, okSD := number(h.SDCm)
		switch {
		case h.LengthCm == nil:
			return footage.Heights{}, nil
		case !ok || length <= 0:
			return footage.Heights{}, []string{fmt.Sprintf("the %s is %g cm, which is no length", h.How, length)}
		case h.SDCm != nil && !okSD:
			return footage.Heights{}, []string{fmt.Sprintf("the standard deviation of the %s is none", h.How)}
		}
		return footage.MeasuredHeights(h.How, length/100, sd/100), nil
	}
	return footage.Heights{}, []string{fmt.Sprintf("heights cannot come from %.40q; expected class, limits, head width or body length", h.How)}
}

// heightClasses are those that the study logs with.
func heightClasses(current *standingRecords) []FootageHeightClass {
	out := []FootageHeightClass{}
	spec, _, err := deckSpec(current)
	if err != nil {
		return out
	}
	for _, h := range spec.Heights {
		out = append(out, FootageHeightClass{Name: h.Word, LowCm: h.LowCM, HighCm: h.HighCM})
	}
	return out
}

// located is what a pass's fixes come to.
type located struct {
	fixes []footage.Located
	rows  []footage.Row
	start study.Opt[float64] // seconds of the clip
	end   study.Opt[float64]
	onset study.Opt[float64]
}

// locate works out where fixes are and the track that they make. times may be nil,
// where they are not known here; what was kept beside the fixes then serves.
func (m *measured) locate(current *standingRecords, times *footage.Clip, poses []footage.Pose) located {
	h, _ := heightsOf(current, m.heights)
	l := located{fixes: footage.Locate(m.fixes, poses, h)}
	l.start, l.end, l.onset = m.secondsOf(times, m.start), m.secondsOf(times, m.end), m.secondsOf(times, m.onset)
	if l.start.Known {
		l.rows = footage.Rows(l.fixes, l.start.Value, l.end)
	}
	return l
}

func (m *measured) secondsOf(times *footage.Clip, frame *int) study.Opt[float64] {
	switch {
	case frame == nil:
		return study.Opt[float64]{}
	case times != nil:
		return study.Some(times.SecondsOf(*frame))
	}
	for i := range m.fixes {
		if m.fixes[i].Frame == *frame {
			return study.Some(m.fixes[i].ClipS)
		}
	}
	return study.Opt[float64]{}
}

// since is a moment of the clip on the pass's clock, as t_s is written.
func (l *located) since(at study.Opt[float64]) *float64 {
	if !l.start.Known || !at.Known {
		return nil
	}
	t := math.Round((at.Value-l.start.Value)*1e6) / 1e6
	return &t
}

// fixViews are fixes as the page shows them, by frame and point.
func (m *measured) fixViews(l *located) []FootageLocated {
	out := []FootageLocated{}
	for i := range l.fixes {
		f := &l.fixes[i]
		v := FootageLocated{
			FootageFix: FootageFix{Point: f.Point, Frame: f.Frame, Pixel: f.Pixel, How: f.How, By: m.by(f.By)},
			ClipS:      f.ClipS, TS: l.since(study.Some(f.ClipS)), Why: f.Why,
		}
		if f.HeightLowCm.Known {
			v.HeightLowCm, v.HeightHighCm = known(f.HeightLowCm, 1), known(f.HeightHighCm, 1)
		}
		if f.Found {
			at, cov := f.Position.AtM, f.Position.CovarianceM2
			for a := range cov {
				for b := range cov[a] {
					cov[a][b] *= 1e4
				}
			}
			v.XCm, v.YCm, v.HeightCm = finite(at[0]*100), finite(at[1]*100), finite(f.Height.M*100)
			v.LowCm, v.HighCm = finite(f.Height.LowM*100), finite(f.Height.HighM*100)
			v.SDCm, v.CovCm2 = finite(f.PlaneSDM*100), &cov
		}
		out = append(out, v)
	}
	return out
}

// requested is what a request states, held against what stands: a fix that was
// neither moved nor made anew keeps who placed it, and any other gets the author.
func requested(in *FootageFixesRequest, was *measured, times *footage.Clip) *measured {
	m := &measured{pass: in.Pass, clip: in.Clip, start: in.StartFrame, onset: in.OnsetFrame, end: in.EndFrame, heights: in.Heights, print: was.print}
	type place struct {
		point string
		frame int
	}
	old := make(map[place]*footage.Fix, len(was.fixes))
	if was.clip == in.Clip {
		for i := range was.fixes {
			old[place{was.fixes[i].Point, was.fixes[i].Frame}] = &was.fixes[i]
		}
	}
	author := strings.TrimSpace(in.Author)
	names := make([]string, len(in.Fixes))
	for i, f := range in.Fixes {
		fix := footage.Fix{Point: strings.TrimSpace(f.Point), Frame: f.Frame, Pixel: f.Pixel, How: f.How}
		if f.HeightLowCm != nil {
			fix.HeightLowCm = study.Some(*f.HeightLowCm)
		}
		if f.HeightHighCm != nil {
			fix.HeightHighCm = study.Some(*f.HeightHighCm)
		}
		if times != nil {
			fix.ClipS = math.Round(times.SecondsOf(f.Frame)*1e6) / 1e6
		}
		fix.Pixel = [2]float64{toThousandth(f.Pixel[0]), toThousandth(f.Pixel[1])}
		names[i] = author
		if before := old[place{fix.Point, fix.Frame}]; before != nil && before.How == fix.How && (fix.How == footage.Filled || before.Pixel == fix.Pixel) {
			names[i] = was.by(before.By)
		} else if author == "" {
			names[i] = strings.TrimSpace(f.By) // a trial, before anybody said who they are
		}
		m.fixes = append(m.fixes, fix)
	}
	m.name(names, was.people)
	footage.Sort(m.fixes)
	return m
}

func toThousandth(v float64) float64 {
	if math.Abs(v) > 1e9 || v != v {
		return v // told by the sheet's check
	}
	return math.Round(v*1000) / 1000
}

// name gives each fix the number of its person: those who stand keep theirs.
// Beyond the eighth there is no number, which the check tells.
func (m *measured) name(names, was []string) {
	people := make([]string, footage.MostPeople)
	for i, name := range was {
		if name != "" && slices.Contains(names, name) {
			people[i] = name
		}
	}
	for i, name := range names {
		if name == "" {
			continue
		}
		at := slices.Index(people, name)
		if at < 0 {
			if at = slices.Index(people, ""); at < 0 {
				people = append(people, name)
				at = len(people) - 1
			} else {
				people[at] = name
			}
		}
		m.fixes[i].By = at + 1
	}
	m.people = people
}
