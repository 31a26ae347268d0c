package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/footage"
)

// The most events of a clip.
const mostEvents = 200

// FootageSync states the events that set a clip's clock, and with them when it
// began by the camera's clock, its offset and its drift. Without events, offset and
// drift stay where they were stated otherwise.
//
// Errors: [ErrNoClip]; [ErrReadOnly]; [ErrChangedMeanwhile]; [*EditError].
func (s *Study) FootageSync(ctx context.Context, in FootageSyncRequest) (FootageClip, error) {
	in.Clip = strings.TrimSpace(in.Clip)
	if err := s.changeClock(ctx, in); err != nil {
		return FootageClip{}, err
	}
	clips, err := s.clipViews(ctx)
	if err != nil {
		return FootageClip{}, err
	}
	for i := range clips {
		if clips[i].Clip == in.Clip {
			return clips[i], nil
		}
	}
	return FootageClip{}, fmt.Errorf("%w: %q", ErrNoClip, in.Clip)
}

func (s *Study) changeClock(ctx context.Context, in FootageSyncRequest) error {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.footageEdit(ctx, true, footageReason)
	if err != nil {
		return err
	}
	current := e.from.current
	name := clipName(in.Clip)
	st := current.state(name)
	if st == nil {
		return fmt.Errorf("%w: %q", ErrNoClip, in.Clip)
	}
	if !sameETag(in.ETag, clipETag(current, in.Clip)) {
		return s.footageChanged(ctx, current, "the clip "+in.Clip, name, footageName(in.Clip))
	}
	before, err := readClockAndPoses(recordFields(current, footageName(in.Clip)))
	if err != nil {
		return err
	}
	fields, events, err := s.clockOf(ctx, e, in)
	if err != nil {
		return err
	}
	switch {
	case len(events) > 0:
	case len(before.events) > 0: // they were made of those
		fields["clock_offset_s"], fields["drift_ppm"] = "", ""
	}
	if err := e.setFields(ctx, name, fields); err != nil {
		return err
	}
	text := ""
	if len(events) > 0 {
		text = jsonText(events)
	}
	if text != recordFields(current, footageName(in.Clip))["sync"] {
		if err := e.setFields(ctx, footageName(in.Clip), map[string]string{"sync": text}); err != nil {
			return err
		}
	}
	return s.writeFootage(ctx, e, in.Author)
}

func recordFields(current *standingRecords, name recordName) map[string]string {
	if st := current.state(name); st != nil {
		return st.Fields
	}
	return nil
}

// clockOf fits the clock that a request states.
func (s *Study) clockOf(ctx context.Context, e *edit, in FootageSyncRequest) (fields map[string]string, events []FootageEvent, err error) {
	name := clipName(in.Clip)
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, nil, err
	}
	fields = map[string]string{}
	was := e.from.current.state(name).Fields
	text := cmp.Or(strings.TrimSpace(in.Start), was["start"])
	start, ok := passTime(text, zone)
	switch {
	case text != was["start"] && !ok:
		e.fault(name, "start", fmt.Sprintf("%q is no time", text), "expected when the first frame was filmed by the camera's clock, like 2026-06-01T21:40:00+01:00")
		return fields, nil, e.failed()
	case text != was["start"]:
		fields["start"] = text
	}
	if len(in.Events) > mostEvents {
		e.fault(name, "events", fmt.Sprintf("there are %d events", len(in.Events)), fmt.Sprintf("expected at most %d", mostEvents))
		return fields, nil, e.failed()
	}
	if len(in.Events) == 0 {
		return fields, nil, nil
	}
	if !ok {
		e.fault(name, "start", fmt.Sprintf("when the clip began is %q, which is no time", text), "expected that it is stated first: offsets count from it")
		return fields, nil, e.failed()
	}
	times, err := s.clipTimes(e.from.current, in.Clip)
	if err != nil {
		return fields, nil, err
	}
	fit := make([]footage.Event, len(in.Events))
	for i, ev := range in.Events {
		at, ok := passTime(strings.TrimSpace(ev.Clock), zone)
		if !ok {
			e.fault(name, fmt.Sprintf("events[%d].clock", i), fmt.Sprintf("%q is no time", ev.Clock), "expected when it was on the trial's clock, like 2026-06-01T21:40:00+01:00")
		}
		if ev.Frame < 0 || ev.Frame >= times.Count() {
			e.fault(name, fmt.Sprintf("events[%d].frame", i), fmt.Sprintf("there is no frame %d in this clip", ev.Frame), fmt.Sprintf("expected one from 0 to %d", times.Count()-1))
			continue
		}
		if len(ev.What) > mostLoggedText {
			e.fault(name, fmt.Sprintf("events[%d].what", i), fmt.Sprintf("it has %d bytes", len(ev.What)), fmt.Sprintf("expected at most %d", mostLoggedText))
		}
		fit[i] = footage.Event{ClipS: times.SecondsOf(ev.Frame), At: at}
		events = append(events, FootageEvent{Frame: ev.Frame, Clock: strings.TrimSpace(ev.Clock), What: strings.TrimSpace(ev.What)})
	}
	if err := e.failed(); err != nil {
		return fields, nil, err
	}
	clock, err := footage.FitClock(start, fit)
	if err != nil {
		e.fault(name, "events", err.Error(), "expected events that agree with each other")
		return fields, nil, e.failed()
	}
	fields["clock_offset_s"], fields["drift_ppm"] = roundText(clock.OffsetS, 6), ""
	if clock.DriftKnown {
		fields["drift_ppm"] = roundText(clock.DriftPPM, 4)
	}
	slices.SortStableFunc(events, func(a, b FootageEvent) int { return cmp.Compare(a.Frame, b.Frame) })
	return fields, events, nil
}

// roundText is a number with at most so many decimals, without zeros behind it.
func roundText(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}
