package storetest

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// model is what the records should be: maps, and the order of appearance.
type model struct {
	fields map[string]map[string]string // nil where it was removed
	order  []string
}

func (m *model) take(d journal.Draft) {
	key := string(d.Kind) + " " + d.Subject
	if _, seen := m.fields[key]; !seen {
		m.order = append(m.order, key)
	}
	switch d.Act {
	case journal.Record:
		m.fields[key] = maps.Clone(d.Body.Fields)
	case journal.Remove:
		m.fields[key] = nil
	case journal.Correct:
		now := maps.Clone(m.fields[key])
		for name, value := range d.Body.Fields {
			if value == "" {
				delete(now, name)
			} else {
				now[name] = value
			}
		}
		m.fields[key] = now
	}
}

func (m *model) list() []string {
	list := []string{}
	for _, key := range m.order {
		if f := m.fields[key]; f != nil {
			list = append(list, fmt.Sprint(key, " ", f))
		}
	}
	return list
}

func list(all []journal.State) []string {
	list := []string{}
	for _, s := range all {
		f := s.Fields
		if f == nil {
			f = map[string]string{}
		}
		list = append(list, fmt.Sprint(s.Kind, " ", s.ID, " ", f))
	}
	return list
}

// checkCounts compares the counts with the records themselves.
func checkCounts(r *rapid.T, s Stores, all []journal.State) {
	counts, err := s.Journal.Counts(r.Context())
	if err != nil {
		r.Fatal(err)
	}
	want := map[study.Kind]int{}
	for _, state := range all {
		want[state.Kind]++
	}
	maps.DeleteFunc(counts, func(_ study.Kind, n int) bool { return n == 0 }) // all of a kind removed
	if diff := cmp.Diff(want, counts); diff != "" {
		r.Fatalf("counts (-records +store):\n%s", diff)
	}
}

// testModel compares random edits with the model: corrections only of records
// that are there, as the program makes them.
func testModel(t *testing.T, open Open) {
	s := open(t)
	run := 0
	rapid.Check(t, func(r *rapid.T) {
		run++ // each with records of its own: to make a study is slow
		m := model{fields: map[string]map[string]string{}}
		names, values := rapid.SampledFrom([]string{"note", "bait", "tide_m"}), rapid.SampledFrom([]string{"1", "two", "<3>", "\u2028"})
		for range rapid.IntRange(1, 6).Draw(r, "appends") {
			var drafts []journal.Draft
			for range rapid.IntRange(1, 8).Draw(r, "drafts") {
				d := journal.Draft{
					Kind:    rapid.SampledFrom([]study.Kind{study.KindTrial, study.KindPass}).Draw(r, "kind"),
					Subject: fmt.Sprint(run, "-", rapid.IntRange(1, 3).Draw(r, "subject")), Act: journal.Record,
				}
				if there := m.fields[string(d.Kind)+" "+d.Subject]; there != nil {
					d.Act = rapid.SampledFrom([]journal.Act{journal.Record, journal.Correct, journal.Remove}).Draw(r, "act")
				}
				switch d.Act {
				case journal.Record:
					d.Body.Fields = rapid.MapOf(names, values).Draw(r, "fields")
				case journal.Correct:
					d.Body.Fields = rapid.MapOfN(names, rapid.OneOf(values, rapid.Just("")), 1, 3).Draw(r, "corrections")
				}
				m.take(d)
				drafts = append(drafts, d)
			}
			if _, err := s.Journal.Append(t.Context(), drafts); err != nil {
				r.Fatal(err)
			}
			all, err := s.Journal.States(t.Context())
			if err != nil {
				r.Fatal(err)
			}
			checkCounts(r, s, all)
			all = slices.DeleteFunc(all, func(s journal.State) bool { return !strings.HasPrefix(s.ID, fmt.Sprint(run, "-")) })
			if diff := cmp.Diff(m.list(), list(all)); diff != "" {
				r.Fatalf("records (-model +store):\n%s", diff)
			}
		}
	})
	if same, err := s.Journal.Rebuild(t.Context(), nil); err != nil || !same {
		t.Fatalf("made again: same %v, %v", same, err)
	}
	checkChains(t, s)
}
