package app

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// Licences are those that a package can be given under, by SPDX identifier.
var Licences = []string{"CC-BY-4.0", "CC0-1.0", "CC-BY-NC-4.0", "ODC-By-1.0"}

var (
	doiShape      = regexp.MustCompile(`^10\.[0-9]{4,9}/[!-~]+$`)
	languageShape = regexp.MustCompile(`^[a-z]{2}$`)
	emailShape    = regexp.MustCompile(`^[^\s@<>"(),;:\\]{1,64}@([A-Za-z0-9-]+\.)+[A-Za-z]{2,}$`)
	orcidShape    = regexp.MustCompile(`^[0-9]{4}-[0-9]{4}-[0-9]{4}-[0-9]{3}[0-9X]$`)
)

// dossierSchema names what lists the keys, in what is said of a fault.
const dossierSchema = "package.md"

// parseDossierSpec reads what a study says of its dossiers, to the letter.
func parseDossierSpec(text string) (spec dossier.Choices, err error) {
	if err = readStrict("spec", []byte(text), &spec, dossierSchema); err != nil {
		return dossier.Choices{}, err
	}
	return spec, nil
}

// parseDossierPeople reads the authors, to the letter.
func parseDossierPeople(text string) ([]dossier.Person, error) {
	var people []dossier.Person
	if err := readStrict("people", []byte(text), &people, dossierSchema); err != nil {
		return []dossier.Person{}, err
	}
	return append([]dossier.Person{}, people...), nil
}

// checkDossier checks what is written of a dossier. A fault names its field, and
// within it the key.
func (e *edit) checkDossier(r *study.Record) {
	name := nameOf(*r)
	shape := func(field string, err error) {
		var faults *FaultsError
		if !errors.As(err, &faults) {
			return
		}
		for _, f := range faults.Faults {
			at := field
			if f.Column != "" {
				at += "/" + strings.NewReplacer("[", "/", "]", "", ".", "/").Replace(f.Column)
			}
			e.fault(name, strings.ReplaceAll(at, "//", "/"), f.Wrong, "expected "+strings.TrimPrefix(f.Expected, "expected "))
		}
	}
	if text := r.Fields["spec"]; text != "" {
		spec, err := parseDossierSpec(text)
		shape("spec", err)
		if err == nil {
			checkChoices(&spec, func(key, wrong, expected string) { e.fault(name, "spec/"+key, wrong, "expected "+expected) })
		}
	}
	if text := r.Fields["people"]; strings.HasPrefix(strings.TrimSpace(text), "[") || strings.HasPrefix(strings.TrimSpace(text), "{") {
		people, err := parseDossierPeople(text)
		shape("people", err)
		if err == nil {
			checkPeople(people, func(place, wrong, expected string) { e.fault(name, "people/"+place, wrong, "expected "+expected) })
		}
	} else if text != "" && !strings.HasPrefix(text, personMark) {
		e.fault(name, "people", fmt.Sprintf("%.40q is no list of people", text), `expected a JSON list like [{"given": "…", "family": "…"}]`)
	}
}

func checkChoices(c *dossier.Choices, fault func(key, wrong, expected string)) {
	longTexts("", c, fault)
	if c.Licence != "" && !slices.Contains(Licences, c.Licence) {
		fault("licence", fmt.Sprintf("found %.60q", c.Licence), "one of "+strings.Join(Licences, ", ")+", or nothing")
	}
	if c.DOI != "" && !doiShape.MatchString(c.DOI) {
		fault("doi", fmt.Sprintf("found %.60q", c.DOI), "a DOI like 10.5281/zenodo.1234567, without https://doi.org/")
	}
	if c.Language != "" && !languageShape.MatchString(c.Language) {
		fault("language", fmt.Sprintf("found %.20q", c.Language), "two small letters of ISO 639-1, like en")
	}
	if !slices.Contains([]string{"", "authors", "all"}, c.NamesOf) {
		fault("names_of", fmt.Sprintf("found %.20q", c.NamesOf), "authors, all, or nothing")
	}
	if !(c.CoarsenKm >= 0 && c.CoarsenKm <= 500) {
		fault("coarsen_km", fmt.Sprintf("found %g", c.CoarsenKm), "a distance from 0 to 500 km")
	}
	if n := len(c.Keywords); n > 50 {
		fault("keywords", fmt.Sprintf("found %d", n), "up to 50")
	}
}

func checkPeople(people []dossier.Person, fault func(place, wrong, expected string)) {
	if n := len(people); n > 500 {
		fault("", fmt.Sprintf("found %d people", n), "up to 500")
		return
	}
	for i := range people {
		p, at := &people[i], fmt.Sprintf("%d/", i)
		longTexts(at, p, fault)
		if strings.TrimSpace(p.Family) == "" {
			fault(at+"family", "it is blank", "a family name, or the whole name where there is only one")
		}
		if p.ORCID != "" && !orcidHolds(p.ORCID) {
			fault(at+"orcid", fmt.Sprintf("%.40q is no ORCID iD: four groups of four digits, the last a check digit", p.ORCID), "one like 0000-0002-1825-0097, without https://orcid.org/")
		}
		if p.Email != "" && !emailShape.MatchString(p.Email) {
			fault(at+"email", fmt.Sprintf("%.60q is no address of e-mail", p.Email), "one like name@example.org")
		}
		if !slices.Contains([]string{"", "author", "contributor", "contact"}, p.Role) {
			fault(at+"role", fmt.Sprintf("found %.20q", p.Role), "author, contributor, contact, or nothing")
		}
	}
}

// orcidHolds checks the last digit of an ORCID iD: ISO/IEC 7064:2003, MOD 11-2.
func orcidHolds(id string) bool {
	if !orcidShape.MatchString(id) {
		return false
	}
	total := 0
	digits := strings.ReplaceAll(id, "-", "")
	for _, d := range digits[:15] {
		total = (total + int(d-'0')) * 2
	}
	check := (12 - total%11) % 11
	return digits[15] == "0123456789X"[check]
}

// longTexts says which texts of a struct are longer than its tags allow.
func longTexts(place string, of any, fault func(key, wrong, expected string)) {
	v := reflect.ValueOf(of).Elem()
	for i := range v.NumField() {
		f := v.Type().Field(i)
		var most int
		if _, err := fmt.Sscan(f.Tag.Get("maxLength"), &most); err != nil || v.Field(i).Kind() != reflect.String {
			continue
		}
		if n := len([]rune(v.Field(i).String())); n > most {
			key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			fault(place+key, fmt.Sprintf("it has %d characters", n), fmt.Sprintf("up to %d", most))
		}
	}
}
