package app

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"brinefield/core/study"
)

// samePassSeconds is how far apart two devices may have timed one pass. A pass at a
// pair takes a few seconds, and two people do not tap at the same moment.
const samePassSeconds = 20

// Bounds on a study in which very many passes stand at one moment: each pass is
// compared with so many that follow it, and so many findings are listed.
const (
	mostCompared = 200
	mostSame     = 1000
)

// SamePass are two passes that may be one: two people logged it on two devices.
// Whether they are one is for people to say, by withdrawing one of the two with a
// reason; nothing is merged.
type SamePass struct {
	Trial, Pair  string
	SecondsApart float64
	Passes       [2]LoggedPass // the earlier one first
}

// LoggedPass is one of them.
type LoggedPass struct {
	Pass, Device string
	Time         time.Time
	Individual   string // "" where it was not recognised
	Species      string
}

// sitedPass is a pass with where it was.
type sitedPass struct {
	LoggedPass
	trial, pair string
}

// nearPasses gives the passes of one trial at one pair, of the same or an
// unidentified individual, that began at most so many seconds apart, in the order of
// trial, pair and time, as pairs of indices.
func nearPasses(passes []sitedPass, withinS float64) [][2]int {
	order := make([]int, len(passes))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		a, b := &passes[i], &passes[j]
		return cmp.Or(cmp.Compare(a.trial, b.trial), cmp.Compare(a.pair, b.pair), a.Time.Compare(b.Time), cmp.Compare(a.Pass, b.Pass))
	})
	var out [][2]int
	for k, i := range order {
		a := &passes[i]
		for _, j := range order[k+1 : min(k+1+mostCompared, len(order))] {
			b := &passes[j]
			if b.trial != a.trial || b.pair != a.pair || b.Time.Sub(a.Time).Seconds() > withinS {
				break
			}
			if a.Individual == b.Individual || a.Individual == "" || b.Individual == "" {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}

// possiblySame gives those of the near passes that two devices wrote and that are
// not known to be two, at most mostSame.
func possiblySame(passes []sitedPass, withinS float64, two func(a, b string) bool) []SamePass {
	out := []SamePass{}
	for _, near := range nearPasses(passes, withinS) {
		a, b := &passes[near[0]], &passes[near[1]]
		if a.Device == b.Device || len(out) == mostSame || two(a.Pass, b.Pass) {
			continue
		}
		out = append(out, SamePass{Trial: a.trial, Pair: a.pair, SecondsApart: b.Time.Sub(a.Time).Seconds(), Passes: [2]LoggedPass{a.LoggedPass, b.LoggedPass}})
	}
	return out
}

// SamePasses lists the passes that may have been logged twice, on two devices:
// of one trial, at one pair, at most twenty seconds apart, of the same or an
// unidentified individual. The device of a pass is the one that wrote it down
// first. Times are those of this laptop's clock as far as offsets are stated:
// less the offset of the device, but where the pass was corrected by it already.
// Pairs of passes that somebody said are two are left out.
func (s *Study) SamePasses(ctx context.Context) ([]SamePass, error) {
	current, err := s.current(ctx)
	if err != nil {
		return nil, err
	}
	return s.samePasses(ctx, current)
}

func (s *Study) samePasses(ctx context.Context, current *standingRecords) ([]SamePass, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	if len(head.Devices) < 2 {
		return []SamePass{}, nil
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	offsets := clockOffsets(current)
	var passes []sitedPass
	for _, st := range current.standing(study.KindPass) {
		f := st.Fields
		at, ok := passTime(f["time"], zone)
		if !ok || f["trial"] == "" || f["pair"] == "" {
			continue // a fault of the season, told there
		}
		logged, err := s.logged.of(ctx, s, &st)
		if err != nil {
			return nil, err
		}
		if offset, ok := offsets[logged.device]; ok && !logged.aligned {
			at = at.Add(-seconds(offset))
		}
		passes = append(passes, sitedPass{LoggedPass{Pass: st.ID, Device: logged.device, Time: at, Individual: f["individual"], Species: f["species"]}, f["trial"], f["pair"]})
	}
	return possiblySame(passes, samePassSeconds, func(a, b string) bool {
		return current.state(recordName{study.KindDistinct, pairOfPasses(a, b)}) != nil
	}), nil
}

// pairOfPasses names two passes, whichever is told first.
func pairOfPasses(a, b string) string { return min(a, b) + "|" + max(a, b) }

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * float64(time.Second))) }

// passTime reads the time of a pass as the canonical season and a tablet write it:
// on the clock of the site, or with its offset.
func passTime(text string, zone *time.Location) (time.Time, bool) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, true
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04"} { // a fraction of seconds may follow
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}
