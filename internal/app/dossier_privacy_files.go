package app

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// season is the study as the package gives it; the study itself is not changed.
func (p *privacy) season(s *study.Study) *study.Study {
	out := *s
	title, question := p.text(s.Title), p.text(s.Question)
	if p.place != nil {
		p.placeUsed = p.place.find.MatchString(s.Title) || p.place.find.MatchString(s.Question)
		out.Site.Name = strings.TrimSpace(p.spec.PlaceName)
	}
	out.Title, out.Question, out.Site.Name = title, question, p.text(out.Site.Name)
	if p.lat.Known && p.lon.Known {
		lat, lon, _ := coarsened(p.lat.Value, p.lon.Value, p.spec.CoarsenKm)
		out.Site.LatitudeDeg, out.Site.LongitudeDeg = study.Some(lat), study.Some(lon)
	} else if p.spec.CoarsenKm > 0 { // one of the two alone is a line on the map
		out.Site.LatitudeDeg, out.Site.LongitudeDeg = study.Opt[float64]{}, study.Opt[float64]{}
	}
	note := p.text
	if p.spec.WithoutNotes {
		note = func(string) string { return "" }
	}
	out.Trials = slices.Clone(s.Trials)
	for i := range out.Trials {
		t := &out.Trials[i]
		t.Observers, t.Note, t.Bait, t.Odour = p.person(t.Observers), note(t.Note), p.text(t.Bait), p.text(t.Odour)
	}
	out.Passes = slices.Clone(s.Passes)
	for i := range out.Passes {
		a := &out.Passes[i]
		a.Scorer, a.SecondScorer, a.Note = p.person(a.Scorer), p.person(a.SecondScorer), note(a.Note)
	}
	out.Individuals = slices.Clone(s.Individuals)
	for i := range out.Individuals {
		a := &out.Individuals[i]
		a.Mark, a.Experience = p.text(a.Mark), p.text(a.Experience)
	}
	out.Clips = slices.Clone(s.Clips)
	for i := range out.Clips {
		out.Clips[i].File = p.text(out.Clips[i].File)
	}
	return &out
}

// choices are the study's own words, as the package gives them. Its people are
// named with their wish.
func (p *privacy) choices(c *dossier.Choices) {
	kept := *c
	p.walk(reflect.ValueOf(c).Elem(), "")
	c.Licence, c.DOI, c.Language, c.NamesOf, c.PlaceName = kept.Licence, kept.DOI, kept.Language, kept.NamesOf, kept.PlaceName
}

// facts cleans every text of the facts.
func (p *privacy) facts(f *dossier.Facts) {
	p.walk(reflect.ValueOf(f).Elem(), "")
	if !p.spec.WithoutNotes {
		return
	}
	if f.Schedule != nil {
		for _, stamp := range []*dossier.StampFact{f.Schedule.Written, f.Schedule.Locked} {
			if stamp != nil {
				stamp.Reason = ""
			}
		}
		for i := range f.Schedule.Openings {
			f.Schedule.Openings[i].Reason = ""
		}
	}
	if f.Deck != nil {
		for i := range f.Deck.Events {
			f.Deck.Events[i].Text = ""
		}
	}
	for i := range f.Cautions {
		f.Cautions[i].Note = ""
	}
	for i := range f.Bench {
		f.Bench[i].Note = ""
	}
}

// walk cleans every text below a value: whole names in fields that name people,
// names within the rest. Maps with texts as keys hold none of people.
func (p *privacy) walk(v reflect.Value, field string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			if v.Elem().Kind() == reflect.Struct { // views may share it
				own := reflect.New(v.Elem().Type())
				own.Elem().Set(v.Elem())
				v.Set(own)
			}
			p.walk(v.Elem(), field)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			p.walk(v.Field(i), v.Type().Field(i).Name)
		}
	case reflect.Slice:
		if v.IsNil() {
			return
		}
		own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(own, v)
		v.Set(own)
		for i := range v.Len() {
			p.walk(v.Index(i), field)
		}
	case reflect.String:
		if field == "By" || field == "Who" {
			v.SetString(p.person(v.String()))
			return
		}
		v.SetString(p.text(v.String()))
	}
}

// files cleans what lies beside the season. What holds nothing to be cleaned keeps
// its bytes.
func (p *privacy) files(beside map[string][]byte) map[string][]byte {
	out := make(map[string][]byte, len(beside))
	for name, data := range beside {
		switch {
		case strings.HasSuffix(name, ".csv"):
			out[name] = p.table(data)
		case strings.HasSuffix(name, ".json"):
			out[name] = p.json(data)
		default:
			out[name] = []byte(p.text(string(data)))
		}
	}
	return out
}

// personColumns are the fields of a season that name people: changed-after-opening
// gives their values as from and to.
var personColumns = []string{"observers", "scorer", "second_scorer", "holder", "people", "contact"}

func isPersonColumn(name string) bool {
	return name == "by" || strings.HasPrefix(name, "by_") || strings.HasPrefix(name, "holder") || slices.Contains(personColumns, name)
}

// table cleans a table: columns that name people, and texts. Numbers stay.
func (p *privacy) table(data []byte) []byte {
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil || len(rows) == 0 {
		return []byte(p.text(string(data)))
	}
	field := slices.Index(rows[0], "field")
	var texts, people []int
	for i, name := range rows[0] {
		switch {
		case isPersonColumn(name):
			people = append(people, i)
		case slices.Contains([]string{"reason", "from", "to", "why_no_place", "note", "text"}, name):
			texts = append(texts, i)
		}
	}
	changed := false
	set := func(cell *string, to string) { changed, *cell = changed || *cell != to, to }
	for _, row := range rows[1:] {
		for _, i := range people {
			set(&row[i], p.person(row[i]))
		}
		for _, i := range texts {
			name := rows[0][i]
			value := name == "from" || name == "to"
			switch {
			case p.spec.WithoutNotes && (name == "reason" || value && field >= 0 && row[field] == "note"):
				set(&row[i], "")
			case value && field >= 0 && isPersonColumn(row[field]):
				set(&row[i], p.person(row[i]))
			case value && field >= 0 && (row[field] == "latitude" || row[field] == "longitude") && (p.lat.Known || p.lon.Known):
				set(&row[i], coordinateWord)
			default:
				set(&row[i], p.text(row[i]))
			}
		}
	}
	if !changed {
		return data
	}
	var b bytes.Buffer
	_ = csv.NewWriter(&b).WriteAll(rows) // a buffer takes all
	return b.Bytes()
}

var textsOfJSON = regexp.MustCompile(`"(?:[^"\\]|\\.)*"(\s*:)?`)

// json cleans the texts of a document and leaves all else as it stands.
func (p *privacy) json(data []byte) []byte {
	key := ""
	return textsOfJSON.ReplaceAllFunc(data, func(found []byte) []byte {
		if found[len(found)-1] == ':' {
			key = strings.Trim(string(found), "\" \t\r\n:")
			return found
		}
		var text string
		if json.Unmarshal(found, &text) != nil || text == "" {
			return found
		}
		to := p.text(text)
		if isPersonColumn(key) {
			to = p.person(text)
		}
		if p.spec.WithoutNotes && key == "note" {
			to = ""
		}
		if to == text {
			return found
		}
		var b bytes.Buffer
		encoder := json.NewEncoder(&b)
		encoder.SetEscapeHTML(false)
		if encoder.Encode(to) != nil {
			return found
		}
		return bytes.TrimSpace(b.Bytes())
	})
}
