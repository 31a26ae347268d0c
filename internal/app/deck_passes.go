package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// loggedPasses knows which device wrote a pass down, and whether its time was
// corrected by that device's clock. It looks a pass up again when an entry about it
// came in.
type loggedPasses struct {
	mu   sync.Mutex
	here map[string]loggedPass
}

type loggedPass struct {
	entries int // about the pass when it was looked up
	last    string
	device  string
	aligned bool
}

// of is what is known of a pass that stands.
func (l *loggedPasses) of(ctx context.Context, s *Study, st *journal.State) (loggedPass, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if p, ok := l.here[st.ID]; ok && p.entries == st.Entries && p.last == st.Last {
		return p, nil
	}
	p := loggedPass{entries: st.Entries, last: st.Last}
	first, err := s.folder.Journal.Entry(ctx, st.First)
	if err != nil {
		return p, err
	}
	p.device = first.Device
	if st.Entries > 1 {
		if p.aligned, err = s.alignedAlready(ctx, st.ID, p.device); err != nil {
			return p, err
		}
	}
	if l.here == nil {
		l.here = map[string]loggedPass{}
	}
	l.here[st.ID] = p
	return p, nil
}

// alignReason begins the reason of a correction by a device's clock. It is by this
// that the journal tells such a correction from others.
func alignReason(device string) string { return "clock of device " + device + " was " }

func alignWords(device string, offsetS float64, reason string) string {
	way, text := "ahead", offsetText(offsetS)
	if late, ok := strings.CutPrefix(text, "-"); ok {
		way, text = "behind", late
	}
	words := fmt.Sprintf("%s%s s %s of the laptop's", alignReason(device), text, way)
	if reason != "" {
		words += ": " + reason
	}
	return words
}

// alignedAlready reports whether a correction by the device's clock stands.
func (s *Study) alignedAlready(ctx context.Context, pass, device string) (bool, error) {
	t, err := s.tell(ctx, recordName{study.KindPass, pass})
	if err != nil {
		return false, err
	}
	for _, e := range slices.Backward(t.entries) {
		if e.Act == journal.Record && e.Undoes == "" {
			return false, nil // what was corrected before was written down anew
		}
		if e.Act == journal.Correct && e.Undoes == "" && strings.HasPrefix(e.Reason, alignReason(device)) && t.undoneBy(e.ID) == "" {
			return true, nil
		}
	}
	return false, nil
}

// clockOffsets are the stated offsets of devices, in seconds.
func clockOffsets(current *standingRecords) map[string]float64 {
	out := map[string]float64{}
	clocks := current.standing(study.KindClock)
	for i := range clocks {
		if s, ok := offsetOf(&clocks[i]); ok {
			out[clocks[i].ID] = s
		}
	}
	return out
}
