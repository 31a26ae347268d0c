package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// How somebody could have known which pair was active.
const (
	knowsByKey       = "key"
	knowsByRehearsal = "rehearsal"
	knowsByCard      = "card"
	knowsByCards     = "cards"
	knowsByWiring    = "wiring"
	knowsByImport    = "import"
	knowsByOpening   = "opening"
)

// knower is somebody who could have known which pair was active, since the
// entry named.
type knower struct {
	entry    string // by which the rows are in order of time
	who, how string
	since    time.Time
	trials   []string // of what was known; nil: all of them
}

// scoredPass is who scored a pass.
type scoredPass struct {
	pass, trial string
	scorers     [2]string
	after       bool // scored or changed after the opening
}

// knowers lists who could have known which pair was active in which trial, by
// time, with the passes of these trials that the same person scored, and a
// sentence for everybody who scored some.
//
// Whoever holds a key could have opened the schedule from the moment it was
// written into the study. A key that was tried, a card that was shown and a
// folder that was imported in plain sight name whoever did it; that cards were
// taken out tells nothing, because each that is shown is written down. Of a schedule
// that was replaced before any of its trials was run, nothing counts. Whoever
// opened the active pairs knew them from then on: only passes that were scored
// or changed afterwards count there.
//
// Names are compared without regard to capital letters and to blanks around
// them: two people of one name are one here, and somebody under two names is
// two.
func (s *Study) knowers(ctx context.Context) ([]KnowerView, []string, error) {
	known, seal, err := s.gatherKnowers(ctx)
	if err != nil || len(known) == 0 {
		return []KnowerView{}, []string{}, err
	}
	passes, err := s.scoredPasses(ctx)
	if err != nil {
		return nil, nil, err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, nil, err
	}
	views, sentences := knowerViews(known, passes, seal.trials, zone)
	return views, sentences, nil
}

func (s *Study) gatherKnowers(ctx context.Context) ([]knower, heldSeal, error) {
	seal, err := s.holdersOfSeal(ctx)
	if err != nil {
		return nil, seal, err
	}
	var out []knower
	if seal.entry != "" {
		entry, err := s.folder.Journal.Entry(ctx, seal.entry)
		if err != nil {
			return nil, seal, err
		}
		for _, holder := range seal.holders {
			out = append(out, knower{entry: entry.ID, who: holder, how: knowsByKey, since: entry.Wall})
		}
	}
	imported := map[string]bool{}
	imports, err := s.folder.Journal.States(ctx, study.KindImport)
	if err != nil {
		return nil, seal, err
	}
	for i := range imports {
		imported[imports[i].ID] = true
	}
	states, err := s.everyRecording(ctx, study.KindRehearsal, study.KindCard, study.KindOpening)
	if err != nil {
		return nil, seal, err
	}
	for i := range states {
		st := &states[i]
		tells := st.Kind != study.KindCard || slices.Contains([]string{knowsByCard, knowsByCards, knowsByWiring}, st.Fields["what"])
		if st.Kind == study.KindOpening || tells && st.First > seal.entry {
			k, err := s.knowerOf(ctx, st, imported[st.ID])
			if err != nil {
				return nil, seal, err
			}
			out = append(out, k)
		}
	}
	slices.SortStableFunc(out, func(a, b knower) int { return strings.Compare(a.entry, b.entry) })
	return together(out), seal, nil
}

// knowerOf is whoever first wrote the record down.
func (s *Study) knowerOf(ctx context.Context, st *journal.State, imported bool) (knower, error) {
	entry, err := s.folder.Journal.Entry(ctx, st.First)
	if err != nil {
		return knower{}, err
	}
	k := knower{entry: entry.ID, since: entry.Wall}
	if k.who, err = s.people.name(ctx, entry.Author); err != nil {
		return k, err
	}
	switch st.Kind {
	case study.KindRehearsal:
		k.how = knowsByRehearsal
	case study.KindCard:
		if k.how = st.Fields["what"]; k.how == knowsByCard {
			k.trials = []string{st.Fields["trial"]}
		}
	default:
		if k.how = knowsByOpening; imported {
			k.how = knowsByImport
		}
		k.trials = openedTrials(st.Fields)
	}
	return k, nil
}

// together makes one row of what one person came to know in one way, since the
// first time. Openings stay apart: they are few, and each has its own moment.
func together(list []knower) []knower {
	var out []knower
	for _, k := range list {
		i := slices.IndexFunc(out, func(o knower) bool { return o.how == k.how && samePerson(o.who, k.who) })
		if i < 0 || k.how == knowsByOpening || k.how == knowsByImport {
			k.trials = slices.Clone(k.trials)
			out = append(out, k)
			continue
		}
		for _, trial := range k.trials {
			if !slices.Contains(out[i].trials, trial) {
				out[i].trials = append(out[i].trials, trial)
			}
		}
	}
	return out
}

// scoredPasses are the passes of the study with who scored them.
func (s *Study) scoredPasses(ctx context.Context) ([]scoredPass, error) {
	after, err := s.afterNow(ctx)
	if err != nil {
		return nil, err
	}
	current, err := s.current(ctx)
	if err != nil {
		return nil, err
	}
	states := current.standing(study.KindPass)
	out := make([]scoredPass, len(states))
	for i := range states {
		p := scoredPass{pass: states[i].ID, trial: states[i].Fields["trial"], after: after.passes[states[i].ID]}
		for j, field := range [...]string{"scorer", "second_scorer"} {
			if p.scorers[j], err = s.people.name(ctx, states[i].Fields[field]); err != nil {
				return nil, err
			}
		}
		out[i] = p
	}
	return out, nil
}

// knowerViews counts what each of them scored. sealed are the trials of the
// schedule in force: a key, a rehearsal, cards and the wiring tell of those only.
func knowerViews(known []knower, passes []scoredPass, sealed []string, zone *time.Location) ([]KnowerView, []string) {
	views, sentences := make([]KnowerView, len(known)), []string{}
	ofSchedule := map[string]bool{}
	for _, trial := range sealed {
		ofSchedule[trial] = true
	}
	for i, k := range known {
		v := KnowerView{Who: k.who, Since: k.since.In(zone).Format(time.RFC3339), How: k.how, Trials: append([]string{}, k.trials...)}
		told := map[string]bool{}
		for _, trial := range k.trials {
			told[trial] = true
		}
		var scored []string
		for _, p := range passes {
			open := k.how == knowsByOpening || k.how == knowsByImport
			switch {
			case !samePerson(p.scorers[0], k.who) && !samePerson(p.scorers[1], k.who):
			case k.how == knowsByOpening && !p.after:
			case len(k.trials) > 0 && !told[p.trial]:
			case len(k.trials) == 0 && !open && len(sealed) > 0 && !ofSchedule[p.trial]:
			default:
				v.Scored++
				if !slices.Contains(scored, p.trial) {
					scored = append(scored, p.trial)
				}
			}
		}
		views[i] = v
		if v.Scored > 0 {
			sentences = append(sentences, knowerSentence(v, scored))
		}
	}
	return views, sentences
}

// knowerSentence warns of somebody who scored what they could have known.
func knowerSentence(v KnowerView, trials []string) string {
	n := counted(v.Scored, "pass", "passes")
	switch v.How {
	case knowsByKey:
		return fmt.Sprintf("%s holds a key of the schedule and scored %s of it", v.Who, n)
	case knowsByRehearsal:
		return fmt.Sprintf("%s rehearsed the opening with a key of the schedule and scored %s of it", v.Who, n)
	case knowsByCards:
		return fmt.Sprintf("%s took out all cards of the schedule and scored %s of it", v.Who, n)
	case knowsByWiring:
		return fmt.Sprintf("%s saw how the pairs are wired to the switch and scored %s", v.Who, n)
	case knowsByImport:
		return fmt.Sprintf("%s imported the active pairs in plain sight and scored %s", v.Who, n)
	case knowsByOpening:
		return fmt.Sprintf("%s opened the active pairs and scored %s that were scored or changed afterwards", v.Who, n)
	}
	if len(trials) == 1 {
		return fmt.Sprintf("%s saw the card of %s and scored %s of it", v.Who, trials[0], n)
	}
	return fmt.Sprintf("%s saw the cards of %s and scored %s of them", v.Who, joinWords(trials), n)
}
