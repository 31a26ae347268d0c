package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// FootageFixes states everything that was measured of a pass anew, or tries it:
// the answer is the same, and nothing is written.
//
// Saved, it is one edit of up to three records: the fixes, the track that they
// make, and the pass's clip, onset and how long it was watched. All of it is
// written or none, it is checked as any other edit, and one undo takes it back.
//
// Errors: [ErrUnknownPass]; [ErrNoClip]; [ErrReadOnly]; [ErrLocked];
// [ErrChangedMeanwhile]; [*EditError], also where a track stands that was not
// measured here and the request does not say that it may be replaced.
func (s *Study) FootageFixes(ctx context.Context, in FootageFixesRequest) (FootagePassView, error) {
	in.Pass, in.Clip = strings.TrimSpace(in.Pass), strings.TrimSpace(in.Clip)
	if in.Save {
		s.write.Lock()
		defer s.write.Unlock()
	}
	e, err := s.footageEdit(ctx, in.Save, footageReason)
	if err != nil {
		return FootagePassView{}, err
	}
	current := e.from.current
	passName := recordName{study.KindPass, in.Pass}
	if current.state(passName) == nil {
		return FootagePassView{}, ErrUnknownPass
	}
	if in.Save {
		if err := mayScore(current, e.right, study.KindFixes); err != nil {
			return FootagePassView{}, err
		}
		if !sameETag(passETag(current, in.Pass), in.ETag) {
			return FootagePassView{}, s.footageChanged(ctx, current, "pass "+in.Pass, fixesName(in.Pass), recordName{study.KindTrack, in.Pass}, passName)
		}
	}
	was, err := s.standingMeasured(ctx, e.from, in.Pass)
	if err != nil && in.Save {
		return FootagePassView{}, err // what cannot be read is not written over
	}
	times, err := s.clipTimes(current, in.Clip)
	if err != nil && (len(in.Fixes) > 0 || in.StartFrame != nil || in.OnsetFrame != nil || in.EndFrame != nil) {
		return FootagePassView{}, err
	}
	if err := e.checkRequest(&in, times); err != nil {
		return FootagePassView{}, err
	}
	m := requested(&in, was, times)
	e.checkMeasured(m)
	if err := e.failed(); err != nil {
		return FootagePassView{}, err
	}
	l := m.locate(current, times, s.clipPoses(current, m.clip, nil))
	m.keepFilled(&l)
	if err := e.putMeasured(ctx, m, was, &l, in.Replace || !in.Save); err != nil {
		return FootagePassView{}, err
	}
	if !in.Save {
		v, err := s.passView(ctx, e.from, m, &l)
		v.Notes = append(v.Notes, e.tried()...)
		return v, err
	}
	if err := s.writeFootage(ctx, e, in.Author); err != nil {
		return FootagePassView{}, err
	}
	return s.FootagePass(ctx, in.Pass)
}

// clipPoses are the poses of a clip as they stand, with a camera as an edit will
// leave it.
func (s *Study) clipPoses(current *standingRecords, clip string, changed *study.Record) []footage.Pose {
	st := current.state(footageName(clip))
	if st == nil {
		return nil
	}
	parts, err := readClockAndPoses(st.Fields)
	if err != nil {
		return []footage.Pose{{Why: err.Error()}}
	}
	return s.posesOf(current, clip, parts.poses, changed)
}

// checkRequest refuses frames that the clip does not have, before times are asked.
func (e *edit) checkRequest(in *FootageFixesRequest, times *footage.Clip) error {
	name := fixesName(in.Pass)
	if len(in.Fixes) > footage.MostFixes {
		e.fault(name, "fixes", fmt.Sprintf("there are %d fixes", len(in.Fixes)), fmt.Sprintf("expected at most %d in a pass", footage.MostFixes))
	}
	if times == nil {
		return e.failed()
	}
	frame := func(field string, n int) {
		if n < 0 || n >= times.Count() {
			e.fault(name, field, fmt.Sprintf("there is no frame %d in this clip", n), fmt.Sprintf("expected one from 0 to %d", times.Count()-1))
		}
	}
	for _, f := range []struct {
		field string
		frame *int
	}{{"start_frame", in.StartFrame}, {"onset_frame", in.OnsetFrame}, {"end_frame", in.EndFrame}} {
		if f.frame != nil {
			frame(f.field, *f.frame)
		}
	}
	for i := range in.Fixes {
		if len(e.faults) > 20 {
			break
		}
		frame(fmt.Sprintf("fixes[%d].frame", i), in.Fixes[i].Frame)
	}
	return e.failed()
}

// checkMeasured refuses what cannot be meant. What only is not finished yet is
// none of it: a fix without a place says why.
func (e *edit) checkMeasured(m *measured) {
	name := fixesName(m.pass)
	for _, f := range footage.Check(m.fixes) {
		wrong := f.Wrong
		if f.Column == "by" {
			wrong = "more people than eight placed fixes of this pass"
		}
		if f.Row > 0 {
			fix := &m.fixes[f.Row-1]
			e.fault(name, f.Column, fmt.Sprintf("%s in frame %d: %s", fix.Point, fix.Frame, wrong), "expected "+f.Expected)
			continue
		}
		e.fault(name, f.Column, wrong, "expected "+f.Expected)
	}
	if _, wrong := heightsOf(e.from.current, m.heights); len(wrong) > 0 {
		e.fault(name, "heights", wrong[0], "expected a class of the study, limits in centimetres, or a length of the animal")
	}
	switch {
	case m.start == nil && (m.onset != nil || m.end != nil):
		e.fault(name, "start_frame", "when the pass began to be watched is not marked, and its turn or its end is", "expected the start too: times count from it")
	case m.onset != nil && *m.onset < *m.start:
		e.fault(name, "onset_frame", fmt.Sprintf("the turn, in frame %d, is before the start, in frame %d", *m.onset, *m.start), "expected it at the start or later")
	case m.end != nil && *m.end < *m.start:
		e.fault(name, "end_frame", fmt.Sprintf("the end, in frame %d, is before the start, in frame %d", *m.end, *m.start), "expected it at the start or later")
	case m.end != nil && m.onset != nil && *m.end < *m.onset:
		e.fault(name, "end_frame", fmt.Sprintf("the end, in frame %d, is before the turn, in frame %d", *m.end, *m.onset), "expected it at the turn or later")
	}
}

// keepFilled gives filled fixes the pixels that were worked out, and leaves out
// those that none could be worked out for.
func (m *measured) keepFilled(l *located) {
	at := make(map[string]map[int]*footage.Located, len(footage.Points))
	for i := range l.fixes {
		f := &l.fixes[i]
		if at[f.Point] == nil {
			at[f.Point] = map[int]*footage.Located{}
		}
		at[f.Point][f.Frame] = f
	}
	m.fixes = slices.DeleteFunc(m.fixes, func(f footage.Fix) bool { return f.How == footage.Filled && at[f.Point][f.Frame].SDPx == 0 })
	for i := range m.fixes {
		f := &m.fixes[i]
		if f.How == footage.Filled {
			px := at[f.Point][f.Frame].Pixel
			f.Pixel = [2]float64{toThousandth(px[0]), toThousandth(px[1])}
		}
	}
}

// putMeasured puts what was measured into an edit: fixes, track and pass.
func (e *edit) putMeasured(ctx context.Context, m, was *measured, l *located, replace bool) error {
	track := recordName{study.KindTrack, m.pass}
	table := footage.Table(l.rows)
	m.print = printOf(table)
	fixes, err := e.take(ctx, fixesName(m.pass))
	if err != nil {
		return err
	}
	standing, err := e.take(ctx, track)
	if err != nil {
		return err
	}
	ours := standing == nil || was.print != "" && printOf(standing.Table) == was.print
	switch {
	case table == nil && !ours: // it stays
	case table == nil:
		e.after[track] = nil
	case !ours && !replace:
		e.fault(track, "", fmt.Sprintf("a track of %s stands that was not measured here", counted(len(standing.Table.Rows), "row", "rows")), "expected your word that the measured one takes its place (replace_track)")
		return e.failed()
	case standing != nil && printOf(standing.Table) == m.print:
	default:
		e.after[track] = &study.Record{Kind: study.KindTrack, ID: m.pass, Table: table}
	}
	if after := m.record(); after == nil || fixes == nil || !sameRecord(fixes, after) {
		e.after[fixesName(m.pass)] = after
	}
	return e.putPass(ctx, m, was, l)
}

func sameRecord(a, b *study.Record) bool {
	return maps.Equal(a.Fields, b.Fields) && jsonText(a.Table) == jsonText(b.Table)
}

// putPass states clip, onset and how long the pass was watched. What footage never
// said of it stays.
func (e *edit) putPass(ctx context.Context, m, was *measured, l *located) error {
	fields := map[string]string{}
	if !m.empty() {
		fields["clip"] = m.clip
	}
	for _, f := range []struct {
		field    string
		now, old *int
		at       study.Opt[float64]
	}{{"onset_s", m.onset, was.onset, l.onset}, {"watched_s", m.end, was.end, l.end}} {
		switch t := l.since(f.at); {
		case f.now != nil && t != nil:
			fields[f.field] = numberText(*t)
		case f.now == nil && f.old != nil:
			fields[f.field] = ""
		}
	}
	if len(fields) == 0 {
		return nil
	}
	return e.setFields(ctx, recordName{study.KindPass, m.pass}, fields)
}

// tried says what an edit would be refused for if it were saved now.
func (e *edit) tried() []string {
	if len(e.from.Faults) > 0 {
		return nil
	}
	small := readRecords(e.passesAlone())
	var out []string
	for _, f := range small.faults {
		if p, ok := placeOf(small.places, f); ok && (p.kind == study.KindPass || p.kind == study.KindTrack) {
			out = append(out, fmt.Sprintf("it cannot be saved so: %s; %s", f.Wrong, f.Expected))
		}
	}
	return out
}

// remeasure makes the tracks of a clip again, with poses as an edit will leave
// them. A track that came from elsewhere stays.
//
// Errors: [ErrLocked]; [*EditError].
func (s *Study) remeasure(ctx context.Context, e *edit, clip string, poses []footage.Pose) error {
	for _, st := range e.from.current.standing(study.KindFixes) {
		if st.Fields["clip"] != clip || st.Fields[trackPrint] == "" {
			continue
		}
		track := e.from.current.state(recordName{study.KindTrack, st.ID})
		if track == nil || printOf(track.Table) != st.Fields[trackPrint] {
			continue
		}
		was, err := s.standingMeasured(ctx, e.from, st.ID)
		if err != nil {
			return err
		}
		times, err := s.clipTimes(e.from.current, clip)
		if err != nil {
			e.fault(fixesName(st.ID), "", "tracks were measured in this clip, and cannot be made again here: "+err.Error(), "expected to change its poses and cameras where its files are")
			return e.failed()
		}
		now := *was
		now.fixes = slices.Clone(was.fixes)
		l := now.locate(e.from.current, times, poses)
		now.keepFilled(&l)
		if printOf(footage.Table(l.rows)) == was.print {
			continue
		}
		if err := mayScore(e.from.current, e.right, study.KindTrack); err != nil {
			return err
		}
		if err := e.putMeasured(ctx, &now, was, &l, false); err != nil {
			return err
		}
	}
	return nil
}

// remeasureWith is [Study.remeasure] of all clips with a pose that names a camera.
func (s *Study) remeasureWith(ctx context.Context, e *edit, camera *study.Record) error {
	for _, clip := range clipsWith(e.from.current, camera.ID) {
		if err := s.remeasure(ctx, e, clip, s.clipPoses(e.from.current, clip, camera)); err != nil {
			return err
		}
	}
	return nil
}
