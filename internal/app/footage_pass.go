package app

import (
	"context"
	"fmt"
	"math"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// FootagePass is a pass as it was measured in a clip. One that was not has the clip
// that it names, or into whose time it falls, and where it begins by its time.
//
// Errors: [ErrUnknownPass].
func (s *Study) FootagePass(ctx context.Context, pass string) (FootagePassView, error) {
	e, err := s.footageEdit(ctx, false, "")
	if err != nil {
		return FootagePassView{}, err
	}
	a := e.from
	if a.current.state(recordName{study.KindPass, pass}) == nil {
		return FootagePassView{}, ErrUnknownPass
	}
	m, unread := s.standingMeasured(ctx, a, pass)
	if m == nil {
		return FootagePassView{}, unread
	}
	if m.clip == "" {
		place := s.clipClocks(a).of(a.current, pass)
		m.clip = place.clip
		if times, err := s.clipTimes(a.current, place.clip); err == nil {
			m.start, m.end = place.frames(times)
		}
		if i := passIndex(a.Study, pass); i >= 0 && a.Study.Passes[i].HeightClass != "" {
			for _, c := range heightClasses(a.current) {
				if c.Name == a.Study.Passes[i].HeightClass {
					m.heights.Class = c.Name
				}
			}
		}
	}
	times, err := s.clipTimes(a.current, m.clip)
	l := m.locate(a.current, times, s.clipPoses(a.current, m.clip, nil))
	v, viewErr := s.passView(ctx, a, m, &l)
	v.Saved = true
	if unread != nil {
		v.Notes = append(v.Notes, unread.Error())
	}
	if err != nil && m.clip != "" {
		v.Notes = append(v.Notes, err.Error())
	}
	return v, viewErr
}

// passView shows what was measured of a pass.
func (s *Study) passView(ctx context.Context, a *Assembled, m *measured, l *located) (FootagePassView, error) {
	v := FootagePassView{
		Pass: m.pass, Clip: m.clip, ETag: passETag(a.current, m.pass), StartFrame: m.start, OnsetFrame: m.onset, EndFrame: m.end, Heights: m.heights,
		Fixes: m.fixViews(l), Track: []TrackPoint{}, Notes: []string{},
	}
	if sd := footage.FixSDM(l.fixes); sd > 0 {
		v.FixSDCm = finite(sd * 100)
	}
	standing := a.current.state(recordName{study.KindTrack, m.pass})
	v.OtherTrack = standing != nil && !madeHere(a.current, m.pass)
	switch made := footage.Table(l.rows); {
	case v.OtherTrack && made != nil:
		v.Notes = append(v.Notes, "a track stands in the season that was not measured here: it stays until it is replaced")
	case made != nil && m.print != "" && printOf(made) != m.print:
		v.Notes = append(v.Notes, "the track in the season is not the one that these fixes make now: save them again")
	}
	v.Notes = append(v.Notes, m.trackNotes(l)...)
	var err error
	v.Track, v.TrackWhy, err = s.fieldAlong(ctx, a, m, l)
	v.FieldPending = v.TrackWhy == sentence(errFieldPending)
	return v, err
}

// madeHere reports whether the track that stands is the one that the fixes that
// stand made.
func madeHere(current *standingRecords, pass string) bool {
	fixes, track := current.state(fixesName(pass)), current.state(recordName{study.KindTrack, pass})
	return fixes != nil && track != nil && fixes.Fields[trackPrint] != "" && printOf(track.Table) == fixes.Fields[trackPrint]
}

// vagueClicks is how many times as uncertain as a click a filled fix may be before
// that is said.
const vagueClicks = 5

// trackNotes say what of the fixes a person should know.
func (m *measured) trackNotes(l *located) []string {
	notes := []string{}
	snout, other, lost, vague := 0, 0, 0, 0
	click := math.Inf(1)
	for i := range l.fixes {
		if f := &l.fixes[i]; f.How != footage.Filled {
			click = math.Min(click, f.SDPx)
		}
	}
	for i := range l.fixes {
		f := &l.fixes[i]
		name, in := footage.InTrack(f.Point)
		switch {
		case in && name == "" && f.Found:
			snout++
		case in && f.Found:
			other++
		}
		if !f.Found {
			lost++
		}
		if f.How == footage.Filled && f.SDPx > vagueClicks*click {
			vague++
		}
	}
	if snout == 0 && other > 0 {
		notes = append(notes, "the snout, the study's reference point, has no fix with a place: the track is of the other points alone")
	}
	if lost > 0 {
		notes = append(notes, counted(lost, "fix has", "fixes have")+" no place: each says why")
	}
	if vague > 0 {
		notes = append(notes, fmt.Sprintf("%s more than %d times as uncertain as a click: place one or two in the gaps that they fill", counted(vague, "filled fix is", "filled fixes are"), vagueClicks))
	}
	return notes
}

// noTrack says why there is no track; empty where there is.
func (m *measured) noTrack(l *located) string {
	switch {
	case len(l.rows) > 0:
		return ""
	case len(m.fixes) == 0:
		return "Nothing is fixed in this pass yet."
	case m.start == nil:
		return "When the pass began to be watched is not marked yet: times count from there."
	case !l.start.Known:
		return "The frames of this clip cannot be counted on this laptop: its files were never here."
	}
	for i := range l.fixes {
		if _, in := footage.InTrack(l.fixes[i].Point); in && l.fixes[i].Why != "" {
			return "No fix has a place in the track: " + l.fixes[i].Why + "."
		}
	}
	return "What is fixed only measures: the snout, the eye or an edge of the head makes a track."
}
