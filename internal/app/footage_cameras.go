package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/study"
)

// FootageCamera states a camera, changes it or withdraws it. Once it is changed,
// the tracks that were measured with it are made again, in the same edit.
//
// Errors: [ErrReadOnly]; [ErrChangedMeanwhile]; [ErrLocked] where a track would
// change; [*EditError].
func (s *Study) FootageCamera(ctx context.Context, in FootageCameraRequest) (FootageView, error) {
	if err := s.changeCamera(ctx, in); err != nil {
		return FootageView{}, err
	}
	return s.Footage(ctx)
}

func (s *Study) changeCamera(ctx context.Context, in FootageCameraRequest) error {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.footageEdit(ctx, true, footageReason)
	if err != nil {
		return err
	}
	current := e.from.current
	id := strings.TrimSpace(in.ID)
	name := cameraName(id)
	st := current.state(name)
	switch {
	case id == "" || len(id) > 100 || strings.ContainsFunc(id, func(r rune) bool { return r < ' ' }):
		e.fault(name, "id", "the camera has no name that can be kept", "expected a name on one line, at most 100 bytes")
	case st != nil && in.ETag == "":
		e.fault(name, "id", fmt.Sprintf("there is a camera %q already", id), "expected another name, or that this one is changed")
	case st != nil && !sameETag(in.ETag, recordsETag(current, name)), st == nil && in.ETag != "":
		return s.footageChanged(ctx, current, "the camera "+id, name)
	case st == nil && in.Remove:
		e.fault(name, "id", fmt.Sprintf("there is no camera %q", id), "expected one of the study's cameras")
	}
	if n := posesWith(current, id); in.Remove && n > 0 {
		e.fault(name, "", counted(n, "pose was", "poses were")+" worked out with it", "expected that those poses name another camera, or are withdrawn first")
	}
	if len(in.Note) > mostLoggedText {
		e.fault(name, "note", fmt.Sprintf("it has %d bytes", len(in.Note)), fmt.Sprintf("expected at most %d", mostLoggedText))
	}
	if !in.Remove {
		for _, wrong := range in.Spec.Check() {
			e.fault(name, "spec", wrong, "expected numbers as a calibration of this camera gives them")
		}
	}
	if err := e.failed(); err != nil {
		return err
	}
	if in.Remove {
		if _, err := e.take(ctx, name); err != nil {
			return err
		}
		e.after[name] = nil
		return s.writeFootage(ctx, e, in.Author)
	}
	if err := e.setFields(ctx, name, map[string]string{"spec": jsonText(in.Spec), "note": strings.TrimSpace(in.Note)}); err != nil {
		return err
	}
	if err := s.remeasureWith(ctx, e, e.after[name]); err != nil {
		return err
	}
	return s.writeFootage(ctx, e, in.Author)
}

// posesWith counts the poses that name a camera.
func posesWith(current *standingRecords, id string) int {
	n := 0
	for _, st := range current.standing(study.KindFootage) {
		parts, err := readClockAndPoses(st.Fields)
		if err != nil {
			continue
		}
		for i := range parts.poses {
			if parts.poses[i].Camera == id {
				n++
			}
		}
	}
	return n
}

// clipsWith are the clips with a pose that names a camera.
func clipsWith(current *standingRecords, id string) []string {
	var out []string
	for _, st := range current.standing(study.KindFootage) {
		parts, err := readClockAndPoses(st.Fields)
		if err == nil && slices.ContainsFunc(parts.poses, func(p FootagePoseSpec) bool { return p.Camera == id }) {
			out = append(out, st.ID)
		}
	}
	return out
}

func (s *Study) cameraViews(current *standingRecords) []FootageCamera {
	out := []FootageCamera{}
	for _, st := range current.standing(study.KindCamera) {
		c, err := readCamera(st.Fields)
		v := FootageCamera{ID: st.ID, ETag: recordsETag(current, cameraName(st.ID)), Spec: c, Note: st.Fields["note"], Used: posesWith(current, st.ID)}
		if err != nil {
			v.Note = strings.TrimSpace(err.Error() + " " + v.Note)
		}
		out = append(out, v)
	}
	return out
}
