package journal

import (
	"maps"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/study"
)

// deepState is a copy made by hand, so that the copies under test are compared
// with something else.
func deepState(s *State) *State {
	if s == nil {
		return nil
	}
	c := *s
	c.Fields = maps.Clone(s.Fields)
	if s.Table != nil {
		c.Table = &study.Table{Columns: append([]string{}, s.Table.Columns...)}
		c.Table.Rows = [][]string{}
		for _, row := range s.Table.Rows {
			c.Table.Rows = append(c.Table.Rows, append([]string{}, row...))
		}
	}
	return &c
}

// model is what a record holds, by the simplest means.
type model struct {
	fields  map[string]string
	table   *study.Table
	removed bool
}

func (m *model) set(fields map[string]string) {
	for name, value := range fields {
		if value == "" {
			delete(m.fields, name)
		} else {
			m.fields[name] = value
		}
	}
}

func (m *model) check(t *rapid.T, what string, s *State) {
	t.Helper()
	want := &State{Record: study.Record{Kind: "pass", ID: "P1", Fields: m.fields, Table: m.table}, First: s.First, Last: s.Last, Entries: s.Entries, Removed: m.removed}
	if len(m.fields) == 0 {
		want.Fields = nil
	}
	differ(t, what, deepState(want), s)
}

// TestChangesLeadToWhatIsWanted: random edits by way of the wanted record, of
// removals, and of corrections that another device made of other values. Every
// draft can be sealed, reads back, and folds to what the model says; nothing
// that went in is changed or shared.
func TestChangesLeadToWhatIsWanted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var now *State
		var head Head
		m := model{fields: map[string]string{}}
		first := ""
		for n := range rapid.IntRange(1, 10).Draw(t, "edits") {
			draft := Draft{Kind: "pass", Subject: "P1"}
			step := rapid.SampledFrom([]string{"want", "want", "remove", "correct"}).Draw(t, "step")
			switch step {
			case "want":
				want := study.Record{Kind: "pass", ID: "P1", Fields: anyFields(anyText()).Draw(t, "fields"), Table: maybeTable().Draw(t, "table")}
				if now != nil && rapid.Bool().Draw(t, "only some differ") {
					fields := maps.Clone(now.Fields)
					if fields == nil {
						fields = map[string]string{}
					}
					maps.Copy(fields, want.Fields)
					want.Fields, want.Table = fields, deepState(now).Table
				}
				before := deepState(now)
				d, ok := Changes(now, want)
				differ(t, "the state before", before, now)
				m = model{fields: map[string]string{}, table: deepState(&State{Record: want}).Table}
				m.set(want.Fields)
				if !ok {
					m.check(t, "nothing to change", now)
					continue
				}
				draft = d
				if d.Act == Correct {
					for name, was := range d.Body.Was {
						if was != now.Fields[name] || was == d.Body.Fields[name] {
							t.Fatalf("%q was %q, is %q, becomes %q", name, was, now.Fields[name], d.Body.Fields[name])
						}
					}
					if len(d.Body.Was) != len(d.Body.Fields) {
						t.Fatalf("%d fields, %d that were", len(d.Body.Fields), len(d.Body.Was))
					}
				}
				kept := d.Body.clone()
				scribble(Body{Fields: want.Fields, Table: want.Table})
				differ(t, "the draft after its record was written over", kept, d.Body.clone())
			case "remove":
				draft.Act = Remove
				m.removed = true
			case "correct":
				draft.Act = Correct
				draft.Body = Body{Fields: anyFields(anyText()).Draw(t, "correction"), Table: maybeTable().Draw(t, "table")}
				if len(draft.Body.Fields) == 0 && draft.Body.Table == nil {
					continue
				}
				m.set(draft.Body.Fields)
				m.removed = false
				if draft.Body.Table != nil {
					m.table = deepState(&State{Record: study.Record{Table: draft.Body.Table}}).Table
				}
			}
			_, canonical, next, err := Seal(head, "deck", draft, stampAt(noon.Add(time.Duration(n)*time.Second), n))
			if err != nil {
				t.Fatalf("%s: %v", step, err)
			}
			head = next
			e, err := Parse(canonical)
			if err != nil {
				t.Fatal(err)
			}
			before, entries := deepState(now), 1
			after, err := Apply(now, e)
			if err != nil {
				t.Fatal(err)
			}
			if now == nil {
				first = e.ID
			} else {
				entries = now.Entries + 1
			}
			differ(t, "entries", []any{first, e.ID, entries}, []any{after.First, after.Last, after.Entries})
			m.check(t, step, after)
			again, _ := e.Canonical()
			differ(t, "the entry", string(canonical), string(again))

			kept := deepState(after)
			scribble(e.Body)
			if now != nil {
				differ(t, "the state before", before, now)
				scribble(Body{Fields: now.Fields, Table: now.Table})
			}
			differ(t, "the state after, when what it came from was written over", kept, after)
			now = after
			if step == "want" {
				want := deepState(now).Record
				if d, ok := Changes(now, want); ok {
					t.Fatalf("something is left to change: %+v", d)
				}
			}
		}
	})
}

// TestACopyOfATable shares nothing, also where rows grow.
func TestACopyOfATable(t *testing.T) {
	from := &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: [][]string{{"0", "1"}, {"1", "2"}}}
	c := cloneTable(from)
	differ(t, "copy", from, c)
	_ = append(c.Rows[0], "overwrites the next row")
	scribble(Body{Table: from})
	differ(t, "copy", &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: [][]string{{"0", "1"}, {"1", "2"}}}, c)
}

func TestChanges(t *testing.T) {
	table := func(rows ...[]string) *study.Table { return &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: rows} }
	rows := table([]string{"0", "1"}, []string{"1", "2"})
	now := &State{Record: study.Record{Kind: "track", ID: "P1", Fields: map[string]string{"note": "a", "point": "snout"}, Table: rows}, First: "1", Last: "1", Entries: 1}
	removed := deepState(now)
	removed.Removed = true
	bare := &State{Record: study.Record{Kind: "track", ID: "P1"}}
	type fields = map[string]string
	for name, c := range map[string]struct {
		now    *State
		fields fields
		table  *study.Table
		want   Body
		act    Act
	}{
		"new":                        {nil, fields{"note": "a", "point": ""}, rows, Body{Fields: fields{"note": "a"}, Table: rows}, Record},
		"new and empty":              {nil, nil, nil, Body{}, Record},
		"new and blank":              {nil, fields{"note": ""}, &study.Table{}, Body{}, Record},
		"the same":                   {now, fields{"note": "a", "point": "snout"}, table([]string{"0", "1"}, []string{"1", "2"}), Body{}, ""},
		"the same with a blank":      {now, fields{"note": "a", "point": "snout", "bit": ""}, rows, Body{}, ""},
		"another value":              {now, fields{"note": "b", "point": "snout"}, rows, Body{Fields: fields{"note": "b"}, Was: fields{"note": "a"}}, Correct},
		"one more":                   {now, fields{"note": "a", "point": "snout", "bit": "no"}, rows, Body{Fields: fields{"bit": "no"}, Was: fields{"bit": ""}}, Correct},
		"one blank":                  {now, fields{"note": "", "point": "snout"}, rows, Body{Fields: fields{"note": ""}, Was: fields{"note": "a"}}, Correct},
		"one absent":                 {now, fields{"point": "snout"}, rows, Body{Fields: fields{"note": ""}, Was: fields{"note": "a"}}, Correct},
		"another cell":               {now, now.Fields, table([]string{"0", "1"}, []string{"1", "2.0"}), Body{Table: table([]string{"0", "1"}, []string{"1", "2.0"})}, Correct},
		"rows in another order":      {now, now.Fields, table([]string{"1", "2"}, []string{"0", "1"}), Body{Table: table([]string{"1", "2"}, []string{"0", "1"})}, Correct},
		"no rows":                    {now, now.Fields, table(), Body{Table: &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: [][]string{}}}, Correct},
		"table taken away":           {now, now.Fields, nil, Body{Table: &study.Table{Columns: []string{}, Rows: [][]string{}}}, Correct},
		"no table before and after":  {bare, nil, &study.Table{}, Body{}, ""},
		"a table where none was":     {bare, nil, rows, Body{Table: rows}, Correct},
		"written again after a loss": {removed, fields{"note": "a"}, nil, Body{Fields: fields{"note": "a"}}, Record},
	} {
		t.Run(name, func(t *testing.T) {
			d, ok := Changes(c.now, study.Record{Kind: "track", ID: "P1", Fields: c.fields, Table: c.table})
			if ok != (c.act != "") {
				t.Errorf("something to change: %t", ok)
			}
			if !ok {
				return
			}
			differ(t, "draft", Draft{Kind: "track", Subject: "P1", Act: c.act, Body: c.want}, Draft{Kind: d.Kind, Subject: d.Subject, Act: d.Act, Body: d.Body.clone()})
			if _, _, _, err := Seal(Head{}, "deck", d, stampAt(noon, 1)); err != nil {
				t.Errorf("the draft cannot be sealed: %v", err)
			}
		})
	}
}

// TestTwoDevicesCorrectTheSameRecord: neither knows of the other; both stay in
// the history, and in each order the later one holds, field by field.
func TestTwoDevicesCorrectTheSameRecord(t *testing.T) {
	type fields = map[string]string
	pass := sealAll(t, "deck", Draft{Kind: "pass", Subject: "P1", Act: Record, Body: Body{Fields: fields{"turned": "no", "bit": "no"}}})[0].entry
	deck := sealAll(t, "deck", Draft{Kind: "pass", Subject: "P1", Act: Correct, Body: Body{Fields: fields{"turned": "yes", "note": "deck"}, Was: fields{"turned": "no", "note": ""}}})[0].entry
	lab := sealAll(t, "lab", Draft{Kind: "pass", Subject: "P1", Act: Correct, Body: Body{Fields: fields{"turned": "", "onset_s": "1.2"}, Was: fields{"turned": "no", "onset_s": ""}}})[0].entry
	gone := sealAll(t, "lab", Draft{Kind: "pass", Subject: "P1", Act: Remove})[0].entry
	state := func(entries ...Entry) *State {
		t.Helper()
		var s *State
		for _, e := range entries {
			var err error
			if s, err = Apply(s, e); err != nil {
				t.Fatal(err)
			}
		}
		if s.Entries != len(entries) || s.First != entries[0].ID || s.Last != entries[len(entries)-1].ID {
			t.Errorf("%d entries from %s to %s", s.Entries, s.First, s.Last)
		}
		return s
	}
	for name, c := range map[string]struct {
		entries []Entry
		want    fields
		removed bool
	}{
		"deck, then lab":             {[]Entry{pass, deck, lab}, fields{"bit": "no", "note": "deck", "onset_s": "1.2"}, false},
		"lab, then deck":             {[]Entry{pass, lab, deck}, fields{"turned": "yes", "bit": "no", "note": "deck", "onset_s": "1.2"}, false},
		"corrected before it came":   {[]Entry{lab, deck}, fields{"turned": "yes", "note": "deck", "onset_s": "1.2"}, false},
		"removed":                    {[]Entry{pass, deck, gone}, fields{"turned": "yes", "bit": "no", "note": "deck"}, true},
		"removed, then corrected":    {[]Entry{pass, gone, deck}, fields{"turned": "yes", "bit": "no", "note": "deck"}, false},
		"removed twice":              {[]Entry{pass, gone, gone}, fields{"turned": "no", "bit": "no"}, true},
		"removed before it came":     {[]Entry{gone}, nil, true},
		"removed, then written anew": {[]Entry{pass, deck, gone, pass}, fields{"turned": "no", "bit": "no"}, false},
		"written twice":              {[]Entry{pass, deck, pass}, fields{"turned": "no", "bit": "no"}, false},
		"all blanked":                {[]Entry{lab, sealAll(t, "deck", Draft{Kind: "pass", Subject: "P1", Act: Correct, Body: Body{Fields: fields{"onset_s": ""}}})[0].entry}, nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := state(c.entries...)
			differ(t, "fields", c.want, s.Fields)
			differ(t, "removed", c.removed, s.Removed)
		})
	}
}
