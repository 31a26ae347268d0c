package journal

import (
	"errors"
	"testing"

	"brinefield/core/study"
)

// invented lifts an individual from version 1 to 3: the length gets another
// name, then a blank species the name of the only one. It works in place, on
// every part of the body.
var invented = Upcasters{study.KindIndividual: {
	func(b Body) Body {
		for _, fields := range []map[string]string{b.Fields, b.Was} {
			if length, ok := fields["length"]; ok {
				fields["total_length_cm"] = length
				delete(fields, "length")
			}
		}
		if b.Table != nil {
			b.Table.Columns[0] = "seen_at"
			b.Table.Rows[0][0] += "Z"
		}
		return b
	},
	func(b Body) Body {
		if b.Fields["species"] == "" {
			b.Fields["species"] = "Raja clavata"
		}
		return b
	},
}}

func individual(version int) Entry {
	fields := map[string]string{"length": "61"}
	if version > 1 {
		fields = map[string]string{"total_length_cm": "61"}
	}
	return Entry{ID: "0", Version: version, Draft: Draft{Kind: study.KindIndividual, Subject: "I1", Act: Correct, Body: Body{
		Fields: fields, Was: map[string]string{"length": "60"},
		Table: &study.Table{Columns: []string{"seen"}, Rows: [][]string{{"2031-06-14T12:00"}}},
	}}}
}

func TestUpcastLiftsStepByStep(t *testing.T) {
	differ(t, "latest", []int{3, 1}, []int{invented.Latest(study.KindIndividual), invented.Latest(study.KindPass)})
	for version := 1; version <= 3; version++ {
		e := individual(version)
		got, err := invented.Upcast(e)
		if err != nil {
			t.Fatal(err)
		}
		differ(t, "the entry given", individual(version), e)
		want := individual(version)
		want.Version = 3
		want.Body.Fields = map[string]string{"total_length_cm": "61", "species": "Raja clavata"}
		switch version {
		case 1:
			want.Body.Was = map[string]string{"total_length_cm": "60"}
			want.Body.Table = &study.Table{Columns: []string{"seen_at"}, Rows: [][]string{{"2031-06-14T12:00Z"}}}
		case 3:
			want.Body.Fields = map[string]string{"total_length_cm": "61"}
		}
		differ(t, "lifted", want, got)
	}
}

func TestUpcastRefuses(t *testing.T) {
	for _, c := range []struct {
		kind    study.Kind
		version int
		want    string
		newer   *NewerError
	}{
		{study.KindIndividual, 0, "an entry of kind individual has version 0: versions begin at 1", nil},
		{study.KindPass, -1, "an entry of kind pass has version -1: versions begin at 1", nil},
		{
			study.KindIndividual, 4, "an entry of kind individual has version 4: this program knows versions up to 3; open the study with the newer program",
			&NewerError{Kind: study.KindIndividual, Found: 4, Max: 3},
		},
		{
			study.KindPass, 2, "an entry of kind pass has version 2: this program knows versions up to 1; open the study with the newer program",
			&NewerError{Kind: study.KindPass, Found: 2, Max: 1},
		},
		{
			"ladder", 9, "an entry of kind ladder has version 9: this program knows versions up to 1; open the study with the newer program",
			&NewerError{Kind: "ladder", Found: 9, Max: 1},
		},
	} {
		e := individual(2)
		e.Kind, e.Version = c.kind, c.version
		_, err := invented.Upcast(e)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s of version %d: %v", c.kind, c.version, err)
		}
		var newer *NewerError
		errors.As(err, &newer)
		differ(t, "error", c.newer, newer)
	}
}

// TestTheProgramUsesItsUpcasters where it writes and where it folds.
func TestTheProgramUsesItsUpcasters(t *testing.T) {
	ours := upcasters
	t.Cleanup(func() { upcasters = ours })
	old := sealAll(t, "deck", Draft{Kind: study.KindIndividual, Subject: "I1", Act: Record, Body: Body{Fields: map[string]string{"length": "61"}}})[0].entry
	upcasters = invented
	newer := sealAll(t, "deck", Draft{Kind: study.KindIndividual, Subject: "I1", Act: Record, Body: Body{Fields: map[string]string{"total_length_cm": "61", "species": "Raja clavata"}}})[0].entry
	differ(t, "versions", []int{1, 3}, []int{old.Version, newer.Version})
	var states []map[string]string
	for _, e := range []Entry{old, newer} {
		s, err := Apply(nil, e)
		if err != nil {
			t.Fatal(err)
		}
		states = append(states, s.Fields)
	}
	differ(t, "the old entry and the new one", states[1], states[0])
	upcasters = ours
	var late *NewerError
	if s, err := Apply(nil, newer); !errors.As(err, &late) || s != nil {
		t.Fatalf("%+v, %v", s, err)
	}
	differ(t, "error", NewerError{Kind: study.KindIndividual, Found: 3, Max: 1}, *late)
}
