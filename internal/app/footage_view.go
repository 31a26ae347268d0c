package app

import (
	"context"
	"strconv"
	"time"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// Footage is what the page Footage begins with. Its clips and its jobs are of one
// moment: work that ends in between would be in neither, and whoever asks again
// while there is work would stop asking.
func (s *Study) Footage(ctx context.Context) (FootageView, error) {
	const tries = 5 // work that ends so often goes on, and is seen to
	for n := 1; ; n++ {
		ended := s.endedJobs()
		v, err := s.footageView(ctx)
		if err != nil || n == tries || s.endedJobs() == ended {
			return v, err
		}
	}
}

func (s *Study) footageView(ctx context.Context) (FootageView, error) {
	v := FootageView{ReadOnly: s.folder.ReadOnly, Points: []FootagePoint{}}
	e, err := s.footageEdit(ctx, false, "")
	if err != nil {
		return v, err
	}
	a := e.from
	v.Blind, v.Position = a.Blind, a.Position
	v.Locked = mayScore(a.current, a.right, study.KindFixes) != nil
	v.Tools = s.mediaTools(ctx)
	if v.Clips, err = s.clipViews(ctx); err != nil {
		return v, err
	}
	if v.Jobs, err = s.footageJobs(); err != nil { // after the clips, which may ask for some
		return v, err
	}
	v.Cameras = s.cameraViews(a.current)
	if v.Passes, err = s.footagePasses(ctx, a); err != nil {
		return v, err
	}
	v.KnownMarks, v.HeightClasses = knownMarks(a.Study), heightClasses(a.current)
	for _, name := range footage.Points {
		_, in := footage.InTrack(name)
		v.Points = append(v.Points, FootagePoint{Name: name, Track: in})
	}
	if sd := a.Study.Analysis.FixSDM; sd.Known && sd.Value > 0 {
		v.FixSDCm = known(sd, 100)
	}
	return v, nil
}

// clipViews are the clips with what is stated of them: clock, events, poses and
// passes.
func (s *Study) clipViews(ctx context.Context) ([]FootageClip, error) {
	clips, err := s.footageClips(ctx)
	if err != nil {
		return nil, err
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	clocks := s.clipClocks(a)
	passes := map[string][]string{}
	for _, st := range a.current.standing(study.KindPass) {
		clip := recordFields(a.current, fixesName(st.ID))["clip"]
		if clip == "" {
			clip = clocks.of(a.current, st.ID).clip
		}
		passes[clip] = append(passes[clip], st.ID)
	}
	for i := range clips {
		c := &clips[i]
		c.ETag = clipETag(a.current, c.Clip)
		if list := passes[c.Clip]; list != nil {
			c.Passes = list
		}
		s.showClock(a, c, clocks)
	}
	return clips, nil
}

// showClock fills in the clock of a clip, its events and its poses.
func (s *Study) showClock(a *Assembled, c *FootageClip, clocks *clipClocks) {
	fields := recordFields(a.current, clipName(c.Clip))
	c.Start = fields["start"]
	if start, ok := passTime(c.Start, clocks.zone); ok {
		c.Start = start.In(clocks.zone).Format(time.RFC3339Nano)
	}
	c.OffsetS, c.DriftPPM = numberField(fields, "clock_offset_s"), numberField(fields, "drift_ppm")
	parts, err := readClockAndPoses(recordFields(a.current, footageName(c.Clip)))
	if err != nil {
		c.Notes = append(c.Notes, err.Error())
	}
	c.Sync, c.Poses = []FootageSync{}, s.poseViews(a, c.Clip, parts.poses)
	start, stated := passTime(fields["start"], clocks.zone)
	clock := footage.Clock{OffsetS: statedOr(c.OffsetS, 0), DriftPPM: statedOr(c.DriftPPM, 0)}
	for _, ev := range parts.events {
		v := FootageSync{Frame: ev.Frame, Clock: ev.Clock, What: ev.What}
		if clipS, ok := s.eventS(a.current, c.Clip, ev.Frame); ok {
			v.ClipS = clipS
			if at, ok := passTime(ev.Clock, clocks.zone); ok && stated && len(parts.events) > 1 {
				v.ResidualS = finite(at.Sub(start).Seconds() - v.ClipS*(1+clock.DriftPPM*1e-6) - clock.OffsetS)
			}
		}
		c.Sync = append(c.Sync, v)
	}
}

func numberField(fields map[string]string, name string) *float64 {
	v, err := strconv.ParseFloat(fields[name], 64)
	if err != nil {
		return nil
	}
	return finite(v)
}

// footagePasses are all passes as the page lists them.
func (s *Study) footagePasses(ctx context.Context, a *Assembled) ([]FootagePass, error) {
	out := []FootagePass{}
	clocks := s.clipClocks(a)
	for _, st := range a.current.standing(study.KindPass) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		v := FootagePass{
			Pass: st.ID, Trial: st.Fields["trial"], Time: st.Fields["time"], Individual: st.Fields["individual"], Species: st.Fields["species"],
			Pair: st.Fields["pair"], Turned: st.Fields["turned"], OnsetS: numberField(st.Fields, "onset_s"),
		}
		v.sizes(st.Fields, a.current.state(recordName{study.KindIndividual, v.Individual}))
		if at, ok := passTime(v.Time, clocks.zone); ok {
			v.Time = at.In(clocks.zone).Format(time.RFC3339Nano)
		}
		place := clocks.of(a.current, st.ID)
		v.Clip = place.clip
		v.StartFrame, v.EndFrame = place.frames(nil)
		if fixes := a.current.state(fixesName(st.ID)); fixes != nil {
			v.Clip, v.StartFrame, v.EndFrame = fixes.Fields["clip"], frameField(fixes.Fields, "start_frame"), frameField(fixes.Fields, "end_frame")
			if fixes.Table != nil {
				v.Fixes = len(fixes.Table.Rows)
			}
		}
		if track := a.current.state(recordName{study.KindTrack, st.ID}); track != nil && track.Table != nil {
			v.Track = len(track.Table.Rows)
		}
		out = append(out, v)
	}
	return out, nil
}

func frameField(fields map[string]string, name string) *int {
	n, err := strconv.Atoi(fields[name])
	if err != nil {
		return nil
	}
	return &n
}
