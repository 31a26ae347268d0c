package dossier

import (
	"encoding/json"
	"regexp"
	"strings"
)

// doiShape and orcidShape are what Citation File Format 1.2.0 takes.
var (
	doiShape   = regexp.MustCompile(`^10\.\d{4,9}(\.\d+)?/[A-Za-z0-9:/_;\-\.\(\)\[\]\\]+$`)
	orcidShape = regexp.MustCompile(`^[0-9]{4}-[0-9]{4}-[0-9]{4}-[0-9]{3}[0-9X]$`)
)

// citationFile is CITATION.cff, Citation File Format 1.2.0. Texts are written as
// JSON writes them, which YAML reads alike.
func citationFile(in Input) []byte {
	var b strings.Builder
	line := func(indent, key, value string) {
		if value != "" {
			b.WriteString(indent + key + ": " + jsonText(value) + "\n")
		}
	}
	message := "Cite this data package by these entries."
	if in.Invented {
		message = inventedText
	}
	b.WriteString("cff-version: 1.2.0\n")
	line("", "message", message)
	b.WriteString("type: dataset\n")
	line("", "title", packageTitle(in))
	b.WriteString("authors:\n")
	authors := authorsOf(in.People)
	if len(authors) == 0 {
		b.WriteString("  - name: " + jsonText(notRecordedText) + "\n") // the format demands one
	}
	for _, p := range authors {
		indent := "  - "
		next := func(key, value string) {
			if value != "" {
				line(indent, key, value)
				indent = "    "
			}
		}
		next("family-names", oneLine(p.Family))
		next("given-names", oneLine(p.Given))
		next("affiliation", oneLine(p.Affiliation))
		next("email", oneLine(p.Email))
		if id := plainORCID(p.ORCID); orcidShape.MatchString(id) {
			next("orcid", orcidAddress+id)
		}
	}
	line("", "abstract", strings.TrimSpace(plainText(in.Spec.Abstract)))
	if doi := plainDOI(in.Spec.DOI); doiShape.MatchString(doi) {
		line("", "doi", doi)
	}
	if l, granted := licenceOf(in.Spec.Licence); granted && l.address != "" {
		line("", "license", l.id)
	}
	if !in.Made.IsZero() {
		line("", "date-released", in.Made.Format("2006-01-02"))
	}
	line("", "version", in.Made.Format("2006.1.2"))
	if words := keywordsOf(in); len(words) > 0 {
		b.WriteString("keywords:\n")
		for _, k := range words {
			b.WriteString("  - " + jsonText(k) + "\n")
		}
	}
	return []byte(b.String())
}

// jsonText is a text as a JSON string; without escapes of HTML.
func jsonText(s string) string {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		return `""`
	}
	return strings.TrimSuffix(b.String(), "\n")
}
