package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/footage"
	"brinefield/core/optics"
	"brinefield/core/study"
)

// The most poses of a clip, and marks of a pose.
const (
	mostPoses = 500
	mostMarks = 200
)

// fittedPose is what came of fitting one.
type fittedPose struct {
	posed *optics.Posed
	why   string
}

// fitPose fits a pose, or finds it among those that were fitted before.
func (s *Study) fitPose(c optics.Camera, spec *FootagePoseSpec) *fittedPose {
	key := jsonText(c) + "\n" + jsonText(spec.Marks) + "\n" + numberText(spec.ClickSDPx)
	w := &s.worked
	w.mu.Lock()
	known := w.poses[key]
	w.mu.Unlock()
	if known != nil {
		return known
	}
	marks := make([]optics.Mark, len(spec.Marks))
	for i, m := range spec.Marks {
		marks[i] = optics.Mark{AtM: m.AtM, Pixel: m.Pixel}
	}
	f := &fittedPose{}
	posed, err := optics.Fit(c, marks, spec.ClickSDPx)
	if err != nil {
		f.why = err.Error()
	} else {
		f.posed = posed
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.poses == nil || len(w.poses) >= mostFitted {
		w.poses = map[string]*fittedPose{}
	}
	w.poses[key] = f
	return f
}

// clipSize is the size of a clip's picture as it is shown, upright; 0 where it is
// not known.
func clipSize(current *standingRecords, clip string) (width, height int) {
	chapters, err := chaptersOf(current.state(footageName(clip)))
	if err != nil || len(chapters) == 0 {
		return 0, 0
	}
	c := chapters[0]
	if c.RotationDeg%180 != 0 {
		return c.HeightPx, c.WidthPx
	}
	return c.WidthPx, c.HeightPx
}

// pose fits one pose of a clip, or says why there is none. changed is a camera as
// an edit will leave it, or nil.
func (s *Study) pose(current *standingRecords, clip string, spec *FootagePoseSpec, changed *study.Record) (fittedPose, *optics.Camera) {
	st := current.state(cameraName(spec.Camera))
	var fields map[string]string
	switch {
	case changed != nil && changed.ID == spec.Camera:
		fields = changed.Fields
	case st != nil:
		fields = st.Fields
	default:
		return fittedPose{why: fmt.Sprintf("the study has no camera %q", spec.Camera)}, nil
	}
	c, err := readCamera(fields)
	if err != nil {
		return fittedPose{why: err.Error()}, nil
	}
	if w, h := clipSize(current, clip); w > 0 && (w != c.WidthPx || h != c.HeightPx) {
		return fittedPose{why: fmt.Sprintf("camera %s is stated for pictures of %d × %d, and those of this clip are %d × %d: its numbers do not hold for them", spec.Camera, c.WidthPx, c.HeightPx, w, h)}, nil
	}
	return *s.fitPose(c, spec), &c
}

// posesOf are poses of a clip as fixes are located with.
func (s *Study) posesOf(current *standingRecords, clip string, specs []FootagePoseSpec, changed *study.Record) []footage.Pose {
	out := make([]footage.Pose, len(specs))
	for i := range specs {
		f, _ := s.pose(current, clip, &specs[i], changed)
		out[i] = footage.Pose{FromFrame: specs[i].FromFrame, Posed: f.posed, Why: f.why}
	}
	slices.SortStableFunc(out, func(a, b footage.Pose) int { return cmp.Compare(a.FromFrame, b.FromFrame) })
	return out
}

// poseViews are poses as the page shows them; more are places that are expected
// like those of the study.
func (s *Study) poseViews(a *Assembled, clip string, specs []FootagePoseSpec, more ...FootageKnownMark) []FootagePose {
	known := append(knownMarks(a.Study), more...)
	out := make([]FootagePose, len(specs))
	for i := range specs {
		v := FootagePose{FootagePoseSpec: specs[i], ResidualPx: [][2]float64{}, ExpectedPx: []FootagePoseMark{}, Notes: []string{}}
		if v.Marks == nil {
			v.Marks = []FootagePoseMark{}
		}
		f, camera := s.pose(a.current, clip, &specs[i], nil)
		if v.Why = f.why; f.posed != nil {
			v.show(f.posed, camera, known)
		}
		out[i] = v
	}
	slices.SortStableFunc(out, func(a, b FootagePose) int { return cmp.Compare(a.FromFrame, b.FromFrame) })
	return out
}

// show fills in what comes of a pose.
func (v *FootagePose) show(p *optics.Posed, c *optics.Camera, known []FootageKnownMark) {
	centre, cov := p.Centre(), p.CentreCovarianceM2()
	var sd [3]float64
	for k := range sd {
		sd[k] = math.Sqrt(math.Max(cov[k][k], 0))
	}
	tilt, rms := p.Pose.TiltDeg(), p.RMSPx
	v.CentreM, v.CentreSDM, v.TiltDeg, v.RMSPx = &centre, &sd, &tilt, &rms
	v.ResidualPx = p.ResidualPx
	named := map[string]bool{}
	expect := func(name string, at [3]float64, always bool) {
		if pixel, err := p.Project(at); err == nil && (always || c.InPicture(pixel)) && finite(pixel[0]) != nil && finite(pixel[1]) != nil {
			v.ExpectedPx = append(v.ExpectedPx, FootagePoseMark{Name: name, AtM: at, Pixel: pixel})
		}
	}
	for _, m := range v.Marks {
		named[m.Name] = true
		expect(m.Name, m.AtM, true)
	}
	for _, m := range known {
		if !named[m.Name] {
			expect(m.Name, m.AtM, false)
		}
	}
	v.GroundSDCm = v.groundSD(p)
	v.Sight = sightOf(p, v.middle())
	v.note(p, c)
}

// groundSD is what one fix on the plate is worth, in the middle of the marks.
func (v *FootagePose) groundSD(p *optics.Posed) *float64 {
	pixel, err := p.Project(v.middle())
	if err != nil {
		return nil
	}
	at, err := p.Locate(pixel, 0, 0)
	if err != nil {
		return nil
	}
	return finite(100 * math.Sqrt(math.Max(at.CovarianceM2[0][0]+at.CovarianceM2[1][1], 0)/2))
}

// middle is that of the marks, on the plane of the plate.
func (v *FootagePose) middle() (at [3]float64) {
	for _, m := range v.Marks {
		at[0] += m.AtM[0] / float64(len(v.Marks))
		at[1] += m.AtM[1] / float64(len(v.Marks))
	}
	return at
}

// note says in plain words what a person should look at again.
func (v *FootagePose) note(p *optics.Posed, c *optics.Camera) {
	add := func(format string, args ...any) { v.Notes = append(v.Notes, fmt.Sprintf(format, args...)) }
	limit := math.Max(4*v.ClickSDPx, 3)
	for i, r := range p.ResidualPx {
		if d := math.Hypot(r[0], r[1]); d > limit && i < len(v.Marks) {
			add("%s is seen %.1f px from where this pose expects it: look at that mark, and at the place that is stated for it", v.Marks[i].Name, d)
		}
	}
	if p.SecondRMSPx > 0 && p.SecondRMSPx < p.RMSPx+2*math.Max(v.ClickSDPx, 0.1) {
		add("another place of the camera explains the marks nearly as well (%.2f px against %.2f px): add a mark far from the others, or one above the plate", p.SecondRMSPx, p.RMSPx)
	}
	if p.Bend > optics.LooseBend {
		add("the marks are seen so small, or clicked so roughly, that they hardly tell how the camera is tilted: what is stated of its place and of fixes is too small, by a fifth or more; marks farther apart, or better clicks, would tell it")
	}
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, m := range v.Marks {
		for k := range 2 {
			low[k], high[k] = math.Min(low[k], m.Pixel[k]), math.Max(high[k], m.Pixel[k])
		}
	}
	if high[0]-low[0] < float64(c.WidthPx)/4 && high[1]-low[1] < float64(c.HeightPx)/4 {
		add("all marks lie in one part of the picture: away from them positions are worth less; add marks near its edges")
	}
	if len(v.Marks) == 4 {
		add("four marks leave little to find a mistake by: a fifth would show one")
	}
	switch tilt := *v.TiltDeg; {
	case tilt > 100:
		add("the camera looks up from the plate, %.0f° from straight down", tilt)
	case tilt > 75:
		add("the camera looks along the plate, %.0f° from straight down: a height that is a little wrong moves a position far", tilt)
	}
	if v.CentreM[2] <= 0 {
		add("the camera is not above the plate: its height comes out as %.2f m", v.CentreM[2])
	}
}

// knownMarks are the places that a study states: electrodes and the corners of
// rectangular plates. z = 0 is the plates' top face.
func knownMarks(st *study.Study) []FootageKnownMark {
	out := []FootageKnownMark{}
	for i := range st.Pairs {
		p := &st.Pairs[i]
		sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
		for _, end := range []struct {
			name string
			sign float64
		}{{"positive", 1}, {"negative", -1}} {
			half := end.sign * p.SeparationM / 2
			out = append(out, FootageKnownMark{
				Name: fmt.Sprintf("pair %s, %s electrode", p.Label, end.name), AtM: [3]float64{p.CentreXM + half*cos, p.CentreYM + half*sin, p.HeightM},
			})
		}
	}
	for i := range st.Plates {
		p := &st.Plates[i]
		if p.Disc {
			continue
		}
		name := "plate"
		switch {
		case p.Label != "":
			name += " " + p.Label
		case len(st.Plates) > 1:
			name += " " + strconv.Itoa(i+1)
		}
		sin, cos := math.Sincos(p.YawDeg * math.Pi / 180)
		for _, corner := range [][2]float64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}} {
			x, y := corner[0]*p.SizeXM/2, corner[1]*p.SizeYM/2
			out = append(out, FootageKnownMark{
				Name: fmt.Sprintf("%s, corner %s x %s y", name, signText(corner[0]), signText(corner[1])),
				AtM:  [3]float64{p.CentreXM + x*cos - y*sin, p.CentreYM + x*sin + y*cos, 0},
			})
		}
	}
	return out
}

func signText(v float64) string {
	if v < 0 {
		return "−"
	}
	return "+"
}

// FootagePoses states all poses of a clip anew, or tries them. Once they are
// saved, the tracks that were measured with the old ones are made again with them,
// in the same edit.
//
// Errors: [ErrNoClip]; [ErrReadOnly]; [ErrChangedMeanwhile]; [ErrLocked]
// where a track would change; [*EditError].
func (s *Study) FootagePoses(ctx context.Context, in FootagePoseRequest) (FootagePoses, error) {
	in.Clip = strings.TrimSpace(in.Clip)
	if in.Save {
		s.write.Lock()
		defer s.write.Unlock()
	}
	e, err := s.footageEdit(ctx, in.Save, footageReason)
	if err != nil {
		return FootagePoses{}, err
	}
	current := e.from.current
	if current.state(clipName(in.Clip)) == nil && current.state(footageName(in.Clip)) == nil {
		return FootagePoses{}, fmt.Errorf("%w: %q", ErrNoClip, in.Clip)
	}
	e.checkPoses(in.Clip, in.Poses)
	if len(in.Ghosts) > mostMarks {
		e.fault(footageName(in.Clip), "ghosts", fmt.Sprintf("there are %d places", len(in.Ghosts)), fmt.Sprintf("expected at most %d", mostMarks))
	}
	if err := e.failed(); err != nil {
		return FootagePoses{}, err
	}
	out := FootagePoses{Clip: in.Clip, ETag: clipETag(current, in.Clip), Poses: s.poseViews(e.from, in.Clip, in.Poses, in.Ghosts...)}
	if !in.Save {
		return out, nil
	}
	if !sameETag(out.ETag, in.ETag) {
		return out, s.footageChanged(ctx, current, "the clip "+in.Clip, clipName(in.Clip), footageName(in.Clip))
	}
	slices.SortStableFunc(in.Poses, func(a, b FootagePoseSpec) int { return cmp.Compare(a.FromFrame, b.FromFrame) })
	text := ""
	if len(in.Poses) > 0 {
		text = jsonText(in.Poses)
	}
	if err := e.setFields(ctx, footageName(in.Clip), map[string]string{"poses": text}); err != nil {
		return out, err
	}
	if err := s.remeasure(ctx, e, in.Clip, s.posesOf(current, in.Clip, in.Poses, nil)); err != nil {
		return out, err
	}
	if err := s.writeFootage(ctx, e, in.Author); err != nil {
		return out, err
	}
	if current, err = s.current(ctx); err != nil {
		return out, err
	}
	out.ETag, out.Saved = clipETag(current, in.Clip), true
	return out, nil
}

// checkPoses refuses poses that nothing can be made of. One that does not fit yet
// is no fault: it says why, and can be gone on with.
func (e *edit) checkPoses(clip string, poses []FootagePoseSpec) {
	name := footageName(clip)
	if len(poses) > mostPoses {
		e.fault(name, "poses", fmt.Sprintf("there are %d poses", len(poses)), fmt.Sprintf("expected at most %d", mostPoses))
		return
	}
	frames := map[int]bool{}
	for i, p := range poses {
		place := func(what string) string { return fmt.Sprintf("poses[%d].%s", i, what) }
		if p.FromFrame < 0 || frames[p.FromFrame] {
			e.fault(name, place("from_frame"), fmt.Sprintf("a pose from frame %d on is stated twice, or before the first frame", p.FromFrame), "expected each pose from a frame of its own, counted from 0")
		}
		frames[p.FromFrame] = true
		if !(p.ClickSDPx > 0) || p.ClickSDPx > 100 {
			e.fault(name, place("click_sd_px"), fmt.Sprintf("found %g", p.ClickSDPx), "expected how far off a click is as a rule, above 0 px and at most 100")
		}
		if e.from.current.state(cameraName(p.Camera)) == nil {
			e.fault(name, place("camera"), fmt.Sprintf("there is no camera %q", p.Camera), "expected one of the study's cameras")
		}
		if len(p.Marks) > mostMarks {
			e.fault(name, place("marks"), fmt.Sprintf("there are %d marks", len(p.Marks)), fmt.Sprintf("expected at most %d", mostMarks))
			continue
		}
		for k, m := range p.Marks {
			at := func(what string) string { return fmt.Sprintf("poses[%d].marks[%d].%s", i, k, what) }
			if strings.TrimSpace(m.Name) == "" || len(m.Name) > 200 {
				e.fault(name, at("name"), "the mark has no name, or one above 200 bytes", "expected its name")
			}
			for _, v := range append(m.AtM[:], m.Pixel[:]...) {
				if finite(v) == nil || math.Abs(v) > 1e6 {
					e.fault(name, at("at_m"), "a place is no number that a mark can have", "expected metres in the study's frame, and pixels")
					break
				}
			}
		}
	}
}
