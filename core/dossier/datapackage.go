package dossier

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// The descriptor of a Frictionless Data Package, version 1 of its specification
// (specs.frictionlessdata.io), in what version 2 reads alike.
type (
	descriptor struct {
		Profile      string        `json:"profile"`
		Name         string        `json:"name"`
		ID           string        `json:"id"`
		Title        string        `json:"title"`
		Description  string        `json:"description"`
		Version      string        `json:"version"`
		Created      string        `json:"created"`
		Keywords     []string      `json:"keywords,omitempty"`
		Licenses     []licenceItem `json:"licenses,omitempty"`
		Contributors []contributor `json:"contributors,omitempty"`
		Sources      []sourceItem  `json:"sources"`
		Resources    []resource    `json:"resources"`
	}
	licenceItem struct {
		Name  string `json:"name"`
		Path  string `json:"path,omitempty"`
		Title string `json:"title,omitempty"`
	}
	contributor struct {
		Title        string `json:"title"`
		GivenName    string `json:"givenName,omitempty"`
		FamilyName   string `json:"familyName,omitempty"`
		Path         string `json:"path,omitempty"`
		Email        string `json:"email,omitempty"`
		Organisation string `json:"organization,omitempty"`
		Role         string `json:"role"`
	}
	sourceItem struct {
		Title string `json:"title"`
		Path  string `json:"path"`
	}
	resource struct {
		Profile     string       `json:"profile"`
		Name        string       `json:"name"`
		Path        string       `json:"path"`
		Title       string       `json:"title,omitempty"`
		Description string       `json:"description,omitempty"`
		Format      string       `json:"format,omitempty"`
		Media       string       `json:"mediatype,omitempty"`
		Encoding    string       `json:"encoding,omitempty"`
		Bytes       *int         `json:"bytes,omitempty"`
		Hash        string       `json:"hash,omitempty"`
		Dialect     *dialect     `json:"dialect,omitempty"`
		Schema      *tableSchema `json:"schema,omitempty"`
	}
	dialect struct {
		Delimiter      string `json:"delimiter"`
		LineTerminator string `json:"lineTerminator"`
		QuoteChar      string `json:"quoteChar"`
		DoubleQuote    bool   `json:"doubleQuote"`
		Header         bool   `json:"header"`
	}
	tableSchema struct {
		Fields        []schemaField `json:"fields"`
		MissingValues []string      `json:"missingValues"`
		PrimaryKey    []string      `json:"primaryKey,omitempty"`
		ForeignKeys   []foreignKey  `json:"foreignKeys,omitempty"`
	}
	schemaField struct {
		Name        string       `json:"name"`
		Type        columnKind   `json:"type"`
		Format      string       `json:"format"`
		Title       string       `json:"title,omitempty"`
		Description string       `json:"description"`
		Unit        string       `json:"unit,omitempty"`
		TrueValues  []string     `json:"trueValues,omitempty"`
		FalseValues []string     `json:"falseValues,omitempty"`
		Constraints *constraints `json:"constraints,omitempty"`
	}
	constraints struct {
		Required bool     `json:"required,omitempty"`
		Unique   bool     `json:"unique,omitempty"`
		Enum     []string `json:"enum,omitempty"`
		Minimum  *float64 `json:"minimum,omitempty"`
		Maximum  *float64 `json:"maximum,omitempty"`
	}
	foreignKey struct {
		Fields    []string     `json:"fields"`
		Reference keyReference `json:"reference"`
	}
	keyReference struct {
		Resource string   `json:"resource"` // "" is the table itself
		Fields   []string `json:"fields"`
	}
)

// printedFile is the one file whose bytes are not the same twice: who prints a PDF
// puts the time into it. The descriptor names it without its hash, which stands in
// checksums.sha256.
const printedFile = ReportPDF

const printedWords = "The report, printed. The one file that is not the same when the package is made again."

// describe makes datapackage.json of all other files but the checksums.
func describe(in Input, h Heading, files []File) ([]byte, error) {
	d := descriptor{
		Profile: "data-package", Name: packageName(h.Name), ID: packageID(in, files),
		Title: packageTitle(in), Description: descriptionOf(in, h),
		Version: in.Made.Format("2006.1.2"), Created: h.Made,
		Keywords: keywordsOf(in), Licenses: licencesOf(in), Contributors: contributorsOf(in.People),
		Sources: []sourceItem{{Title: "The season as it was recorded, in this package", Path: SeasonFolder + "study.toml"}},
	}
	tables, err := readTables(files)
	if err != nil {
		return nil, err
	}
	if h.PDF != "" && !hasFile(files, printedFile) { // made again without it: described all the same
		files = append(slices.Clone(files), File{Name: printedFile, Media: "application/pdf"})
		byName(files)
	}
	names := resourceNames(files)
	for _, f := range files {
		if f.Name == printedFile {
			f.What = printedWords
		}
		r := resource{
			Profile: "data-resource", Name: names[f.Name], Path: f.Name, Description: oneLine(f.What),
			Format: strings.TrimPrefix(strings.ToLower(path.Ext(f.Name)), "."), Media: f.Media,
		}
		if f.Name != printedFile {
			size, sum := len(f.Bytes), sha256.Sum256(f.Bytes)
			r.Bytes, r.Hash = &size, "sha256:"+hex.EncodeToString(sum[:])
		}
		if t := tables[f.Name]; t != nil {
			r.Profile, r.Encoding = "tabular-data-resource", "utf-8"
			r.Dialect = &dialect{Delimiter: ",", LineTerminator: "\n", QuoteChar: `"`, DoubleQuote: true, Header: true}
			r.Schema = t.schema(tables, names)
		}
		d.Resources = append(d.Resources, r)
	}
	return indentJSON(d)
}

// indentJSON writes v for people and programs: two blanks, no escapes of HTML.
func indentJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// packageName keeps of a name what an identifier may hold: small letters, digits,
// - . _ /.
func packageName(name string) string {
	out := strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, name), "-.")
	for strings.Contains(out, "--") {
		out = strings.ReplaceAll(out, "--", "-")
	}
	if out == "" {
		return "dossier"
	}
	return out
}

// resourceNames gives every file a name of its own: its path, in the letters that an
// identifier may hold.
func resourceNames(files []File) map[string]string {
	names, taken := make(map[string]string, len(files)), map[string]bool{}
	for _, f := range files {
		stem := strings.TrimSuffix(f.Name, ".csv")
		name := packageName(strings.ReplaceAll(stem, "/", "-"))
		for n := 2; taken[name]; n++ {
			name = packageName(strings.ReplaceAll(stem, "/", "-")) + "-" + strconv.Itoa(n)
		}
		taken[name] = true
		names[f.Name] = name
	}
	return names
}

// packageID is the DOI, or else names the content: the SHA-256 of the checksums of
// all files that are the same whenever the package is made again of the same data.
func packageID(in Input, files []File) string {
	if doi := plainDOI(in.Spec.DOI); doi != "" {
		return "https://doi.org/" + doi
	}
	same := slices.DeleteFunc(slices.Clone(files), func(f File) bool {
		return slices.Contains([]string{printedFile, ReadmeFile, DossierFile}, f.Name)
	})
	return fmt.Sprintf("urn:sha256:%x", sha256.Sum256(checksumLines(same)))
}

// plainDOI is the DOI without an address before it; "" where it is none (DOI Handbook,
// section 2.2: 10., a registrant's number, a stroke and a suffix).
func plainDOI(doi string) string {
	doi = oneLine(doi)
	for _, before := range []string{"https://doi.org/", "http://doi.org/", "https://dx.doi.org/", "http://dx.doi.org/", "doi:", "DOI:"} {
		doi = strings.TrimSpace(strings.TrimPrefix(doi, before))
	}
	if !anyDOI.MatchString(doi) {
		return ""
	}
	return doi
}

var anyDOI = regexp.MustCompile(`^10\.\d{4,9}(\.\d+)*/[!-~]+$`)

func packageTitle(in Input) string {
	if t := oneLine(in.Spec.Title); t != "" {
		return t
	}
	if in.Study != nil && oneLine(in.Study.Title) != "" {
		return oneLine(in.Study.Title)
	}
	return "Untitled study"
}

// inventedText stands wherever a description of a demo package does.
const inventedText = "INVENTED DEMO DATA: no animal was observed and nothing was measured. Do not cite it and do not publish it."

func descriptionOf(in Input, h Heading) string {
	var parts []string
	if in.Invented {
		parts = append(parts, inventedText)
	}
	if a := strings.TrimSpace(plainText(in.Spec.Abstract)); a != "" {
		parts = append(parts, a)
	}
	if in.Study != nil && oneLine(in.Study.Question) != "" {
		parts = append(parts, "Question of the study: "+oneLine(in.Study.Question))
	}
	if in.Sealed > 0 {
		parts = append(parts, fmt.Sprintf("The active pairs of %s are sealed: roles, fields and estimates of these are absent.", countText(in.Sealed, "trial", "trials")))
	}
	parts = append(parts, "Made by Brinefield "+versionText(h.Program)+". README.txt says what each file is.")
	return strings.Join(parts, "\n\n")
}

func countText(n int, single, many string) string {
	if n == 1 {
		return "1 " + single
	}
	return strconv.Itoa(n) + " " + many
}

func versionText(b Build) string {
	v := oneLine(b.Version)
	if v == "" {
		v = "of an unknown version"
	}
	if c := oneLine(b.Commit); c != "" && !strings.Contains(v, c) {
		v += " (commit " + c + ")"
	}
	return v
}

func keywordsOf(in Input) []string {
	var out []string
	for _, k := range in.Spec.Keywords {
		if k = oneLine(k); k != "" && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

func licencesOf(in Input) []licenceItem {
	l, granted := licenceOf(in.Spec.Licence)
	if !granted {
		return nil
	}
	return []licenceItem{{Name: l.id, Path: l.address, Title: l.title}}
}

func contributorsOf(people []Person) []contributor {
	var out []contributor
	for _, p := range people {
		name := personName(p)
		if name == "" {
			continue
		}
		c := contributor{
			Title: name, GivenName: oneLine(p.Given), FamilyName: oneLine(p.Family),
			Email: oneLine(p.Email), Organisation: oneLine(p.Affiliation), Role: "author",
		}
		if id := plainORCID(p.ORCID); id != "" {
			c.Path = orcidAddress + id
		}
		if p.Role == "contributor" || p.Role == "contact" {
			c.Role = "contributor"
		}
		out = append(out, c)
	}
	return out
}

const orcidAddress = "https://orcid.org/"

func plainORCID(id string) string {
	id = oneLine(id)
	for _, before := range []string{orcidAddress, "http://orcid.org/"} {
		id = strings.TrimPrefix(id, before)
	}
	return id
}

func personName(p Person) string { return oneLine(p.Given + " " + p.Family) }
