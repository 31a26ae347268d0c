package app

import (
	"regexp"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// privateParts are the raw parts of a package of a study as the choices say: its
// season, and beside it what names no more than they allow.
func privateParts(s *study.Study, parts DossierParts, h *dossier.Heading, people []string) (DossierParts, error) {
	files, err := season.Write(s)
	if err != nil {
		return parts, err
	}
	parts.Season = Input(files)
	return parts, nil
}

// singleNames are the names in a text of one or several.
func singleNames(text string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(betweenNames, r) }) {
		if name := strings.TrimSpace(part); name != "" {
			out = append(out, name)
		}
	}
	return out
}

// othersNamed are the people whom the season names and who are no authors, in
// order of first appearance.
func othersNamed(s *study.Study, authors []dossier.Person) []string {
	var out []string
	add := func(text string) {
		for _, name := range singleNames(text) {
			if !slices.Contains(out, name) && !isAuthor(name, authors) && !isNobody(name) {
				out = append(out, name)
			}
		}
	}
	for i := range s.Trials {
		add(s.Trials[i].Observers)
	}
	for i := range s.Passes {
		add(s.Passes[i].Scorer)
		add(s.Passes[i].SecondScorer)
	}
	return out
}

// isAuthor reports whether a name is that of somebody who is named with their wish.
// What stands in brackets behind a name does not count.
func isAuthor(name string, authors []dossier.Person) bool {
	for _, p := range authors {
		full := strings.Join(strings.Fields(p.Given+" "+p.Family), " ")
		if strings.EqualFold(bareName(name), bareName(full)) {
			return true
		}
	}
	return false
}

var bracketsBehind = regexp.MustCompile(`\s*\([^()]*\)\s*$`)

func bareName(name string) string {
	return strings.Join(strings.Fields(bracketsBehind.ReplaceAllString(name, "")), " ")
}

// isNobody knows the words that stand in the place of a name.
func isNobody(name string) bool {
	return strings.HasPrefix(name, "erased person") || strings.HasPrefix(name, "person not named here yet") || strings.HasPrefix(name, "person whose name cannot be read")
}
