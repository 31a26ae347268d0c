package app

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// recordChange is one value of a season that is not the same in two packages.
type recordChange struct {
	kind           study.Kind
	id, field      string // field "" = the whole record
	was, now       string
	added, removed bool
}

// recordChanges compares the records of two seasons, either those that say how data
// are looked at or the data.
func recordChanges(before, after []study.Record, model bool) []recordChange {
	type name struct {
		kind study.Kind
		id   string
	}
	old := make(map[name]*study.Record, len(before))
	for i := range before {
		old[name{before[i].Kind, before[i].ID}] = &before[i]
	}
	var out []recordChange
	for i := range after {
		r := &after[i]
		if modelKinds[r.Kind] != model {
			continue
		}
		key := name{r.Kind, r.ID}
		was := old[key]
		delete(old, key)
		if was == nil {
			out = append(out, recordChange{kind: r.Kind, id: r.ID, added: true})
			was = &study.Record{}
			if !model {
				continue
			}
		}
		out = append(out, fieldChanges(was, r)...)
	}
	for i := range before {
		r := &before[i]
		if _, left := old[name{r.Kind, r.ID}]; left && modelKinds[r.Kind] == model {
			out = append(out, recordChange{kind: r.Kind, id: r.ID, removed: true})
			if model {
				out = append(out, fieldChanges(r, &study.Record{Kind: r.Kind, ID: r.ID})...)
			}
		}
	}
	return out
}

func fieldChanges(was, now *study.Record) []recordChange {
	fields := map[string]bool{}
	for f := range was.Fields {
		fields[f] = true
	}
	for f := range now.Fields {
		fields[f] = true
	}
	var out []recordChange
	for _, f := range slices.Sorted(maps.Keys(fields)) {
		if was.Fields[f] != now.Fields[f] {
			out = append(out, recordChange{kind: now.Kind, id: now.ID, field: f, was: was.Fields[f], now: now.Fields[f]})
		}
	}
	if !reflect.DeepEqual(was.Table, now.Table) {
		out = append(out, recordChange{kind: now.Kind, id: now.ID, was: tableWords(was.Table), now: tableWords(now.Table)})
	}
	return out
}

func tableWords(t *study.Table) string {
	if t == nil {
		return "none"
	}
	return counted(len(t.Rows), "row", "rows")
}

// causes tells what is not the same in two packages.
func causes(old, young *side, program Program) []DossierCause {
	out := []DossierCause{}
	add := func(cause string, what []string) {
		if len(what) > 0 {
			out = append(out, DossierCause{Cause: cause, What: what})
		}
	}
	if old.note == "" && young.note == "" {
		add("data", dataWords(recordChanges(old.records, young.records, false)))
	}
	add("model", modelWords(old, young))
	add("program", programWords(old, young, program))
	add("choices", choiceWords(&old.p.Heading, &young.p.Heading))
	return out
}

// tableNames are the files of a season in which records of a kind are rows.
var tableNames = map[study.Kind]string{
	study.KindCast: "water.csv", study.KindTrial: "trials.csv", study.KindIndividual: "individuals.csv",
	study.KindClip: "clips.csv", study.KindPass: "passes.csv", study.KindTrack: "tracks.csv",
}

// mostNamed is how many rows a sentence names.
const mostNamed = 8

// dataWords tells rows added, removed and changed by table, and changed values by
// column.
func dataWords(changes []recordChange) []string {
	var out []string
	for _, kind := range study.SeasonKinds {
		var added, removed []string
		byField := map[string][]string{}
		for _, c := range changes {
			if c.kind != kind {
				continue
			}
			switch {
			case c.added:
				added = append(added, c.id)
			case c.removed:
				removed = append(removed, c.id)
			default:
				byField[c.field] = append(byField[c.field], strings.TrimSpace(c.id+" "+sayBlank(c.was)+" → "+sayBlank(c.now)))
			}
		}
		where, thing := "study.toml, ["+string(kind)+"]", [2]string{"entry", "entries"}
		if kind == study.KindStudy {
			where = "study.toml"
		}
		if table := tableNames[kind]; table != "" {
			where, thing = table, [2]string{"row", "rows"}
		}
		if kind == study.KindTrack {
			thing = [2]string{"track", "tracks"}
		}
		if len(added) > 0 {
			out = append(out, fmt.Sprintf("%s: %s added%s", where, counted(len(added), thing[0], thing[1]), listedInBrackets(added)))
		}
		if len(removed) > 0 {
			out = append(out, fmt.Sprintf("%s: %s removed%s", where, counted(len(removed), thing[0], thing[1]), listedInBrackets(removed)))
		}
		for _, field := range slices.Sorted(maps.Keys(byField)) {
			what := field
			if field == "" {
				what = "positions"
			}
			out = append(out, fmt.Sprintf("%s: %s changed in %s: %s", where, what, counted(len(byField[field]), thing[0], thing[1]), firstNamed(byField[field], "; ")))
		}
	}
	return out
}

func listedInBrackets(names []string) string {
	names = slices.DeleteFunc(slices.Clone(names), func(s string) bool { return s == "" })
	if len(names) == 0 {
		return ""
	}
	return " (" + firstNamed(names, ", ") + ")"
}

func firstNamed(names []string, between string) string {
	if len(names) <= mostNamed {
		return strings.Join(names, between)
	}
	return fmt.Sprintf("%s%sand %d more", strings.Join(names[:mostNamed], between), between, len(names)-mostNamed)
}

func sayBlank(s string) string {
	if s == "" {
		return "not recorded"
	}
	return inOneLine(s)
}

// modelWords tells the choices of the analysis by key, and the seed.
func modelWords(old, young *side) []string {
	var out []string
	for _, c := range recordChanges(old.records, young.records, true) {
		if c.field != "" && old.note == "" && young.note == "" {
			out = append(out, fmt.Sprintf("study.toml, [%s] %s: %s → %s", c.kind, c.field, sayBlank(c.was), sayBlank(c.now)))
		}
	}
	a, b := &old.p.Heading, &young.p.Heading
	if a.Seed != b.Seed {
		out = append(out, fmt.Sprintf("seed of the randomisation test: %d → %d", a.Seed, b.Seed))
	}
	if a.Old != b.Old {
		out = append(out, fmt.Sprintf("old data: the field at the onset is %s → %s", sayOld(a.Old), sayOld(b.Old)))
	}
	return out
}

func sayOld(exact bool) string {
	if exact {
		return "the threshold itself"
	}
	return "its upper bound"
}

func programWords(old, young *side, program Program) []string {
	var out []string
	a, b := old.p.Heading.Program, young.p.Heading.Program
	if a != b {
		out = append(out, fmt.Sprintf("made by %s → %s", sayVersion(a), sayVersion(b)))
	}
	if this := dossier.Build(program); (a != this || b != this) && len(out) == 0 {
		out = append(out, fmt.Sprintf("both were made by %s, and this is %s", sayVersion(a), sayVersion(this)))
	}
	return out
}

// choiceWords tells the words and rights of the dossier itself: they change no
// number.
func choiceWords(old, young *dossier.Heading) []string {
	var out []string
	a, b := reflect.ValueOf(old.Spec), reflect.ValueOf(young.Spec)
	for i := range a.NumField() {
		if reflect.DeepEqual(a.Field(i).Interface(), b.Field(i).Interface()) {
			continue
		}
		key, _, _ := strings.Cut(a.Type().Field(i).Tag.Get("json"), ",")
		out = append(out, fmt.Sprintf("%s: %s → %s", key, sayBlank(sayChoice(a.Field(i))), sayBlank(sayChoice(b.Field(i)))))
	}
	if !reflect.DeepEqual(old.People, young.People) {
		out = append(out, fmt.Sprintf("people: %s → %s", sayPeople(old.People), sayPeople(young.People)))
	}
	return out
}

func sayChoice(v reflect.Value) string {
	if list, ok := v.Interface().([]string); ok {
		return strings.Join(list, ", ")
	}
	return fmt.Sprint(v.Interface())
}

func sayPeople(people []dossier.Person) string {
	if len(people) == 0 {
		return "nobody named"
	}
	names := make([]string, len(people))
	for i, p := range people {
		names[i] = strings.TrimSpace(p.Given + " " + p.Family)
	}
	return strings.Join(names, ", ")
}
