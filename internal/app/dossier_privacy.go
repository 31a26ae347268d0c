package app

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// privacy is what a package does to names and places. Numbers are given to people
// in the order in which the season names them, trials first; who is named elsewhere
// follows in order of the alphabet.
type privacy struct {
	spec      dossier.Choices
	people    map[string]string // by name
	inText    []replacement     // of names within texts, the longest first
	place     *replacement      // of the site's name
	lat, lon  study.Opt[float64]
	placeUsed bool // the site's name stood in a text that was kept
}

type replacement struct {
	find *regexp.Regexp
	with string
}

// privateParts are the raw parts of a package of a study as the choices say: its
// season, and what lies beside it, name nobody and no place beyond them. What was
// done stands in the facts, and the choices themselves are changed where they hold
// what is not to be told.
func privateParts(s *study.Study, parts DossierParts, h *dossier.Heading, named []string) (DossierParts, error) {
	p := newPrivacy(s, h, named)
	quiet := p.season(s)
	files, err := season.Write(quiet)
	if err != nil {
		return parts, err
	}
	parts.Season = Input(files)
	registered := string(parts.Beside[preregistrationName])
	parts.Beside = p.files(parts.Beside)
	p.facts(&parts.Facts)
	parts.Facts.Place = p.placeFacts(quiet)
	h.Name = p.text(h.Name)
	p.choices(&h.Spec)
	parts.Facts.Privacy = p.sentences(s, len(parts.Photos))
	if string(parts.Beside[preregistrationName]) != registered {
		parts.Facts.Privacy = append(parts.Facts.Privacy, "Names or places were replaced in "+preregistrationName+": its SHA-256 is that of the text as it was registered.")
	}
	return parts, nil
}

func newPrivacy(s *study.Study, h *dossier.Heading, named []string) *privacy {
	p := &privacy{spec: h.Spec, people: map[string]string{}}
	if h.Spec.NamesOf != "all" {
		names := othersNamed(s, h.People)
		for _, name := range named {
			if !slices.Contains(names, name) && !isAuthor(name, h.People) && !isNobody(name) {
				names = append(names, name)
			}
		}
		p.number(names)
	}
	if km := h.Spec.CoarsenKm; km > 0 {
		p.lat, p.lon = s.Site.LatitudeDeg, s.Site.LongitudeDeg
	}
	if name := strings.TrimSpace(h.Spec.PlaceName); name != "" && strings.TrimSpace(s.Site.Name) != "" && name != s.Site.Name {
		p.place = &replacement{loosely(bareName(s.Site.Name)), name}
	}
	return p
}

// number gives each name its number. Names that differ only in brackets behind
// them, blanks or capitals are one person's.
func (p *privacy) number(names []string) {
	numbers := map[string]string{}
	for _, name := range names {
		key := strings.ToLower(bareName(name))
		if numbers[key] == "" {
			numbers[key] = fmt.Sprintf("Person %d", len(numbers)+1)
			if utf8.RuneCountInString(key) >= shortestInText {
				p.inText = append(p.inText, replacement{loosely(bareName(name)), numbers[key]})
			}
		}
		p.people[name] = numbers[key]
	}
	slices.SortStableFunc(p.inText, func(a, b replacement) int { return len(b.find.String()) - len(a.find.String()) })
}

// shortestInText is how long a name must be to be looked for within texts: initials
// stand for too much else.
const shortestInText = 3

// loosely finds a name as a whole word, in any capitals, its words parted by blanks
// or by what stands for blanks in names of files.
func loosely(name string) *regexp.Regexp {
	words := strings.Fields(name)
	for i := range words {
		words[i] = regexp.QuoteMeta(words[i])
	}
	pattern := strings.Join(words, `[\s_.\-\x{00a0}]*`)
	return regexp.MustCompile(`(?i)(^|[^\pL\pN])` + pattern + `(\s*\([^()]*\))?($|[^\pL\pN])`)
}

// replace puts the other text in the place of what is found; a word's neighbours
// are kept. It looks again, as two finds may share a neighbour.
func (r *replacement) replace(text string) string {
	for range 3 {
		next := r.find.ReplaceAllString(text, "${1}"+strings.ReplaceAll(r.with, "$", "$$")+"${3}")
		if next == text {
			break
		}
		text = next
	}
	return text
}

// person is what a field that names people says in the package.
func (p *privacy) person(text string) string {
	if text == "" {
		return text
	}
	if as, there := p.people[strings.TrimSpace(text)]; there {
		return as
	}
	var out strings.Builder
	for rest := text; ; {
		i := strings.IndexAny(rest, betweenNames)
		part := rest
		if i >= 0 {
			part = rest[:i]
		}
		name := strings.TrimSpace(part)
		if as, there := p.people[name]; there {
			part = strings.Replace(part, name, as, 1)
		}
		out.WriteString(part)
		if i < 0 {
			return p.text(out.String())
		}
		out.WriteByte(rest[i])
		rest = rest[i+1:]
	}
}

// text is a free text without the names, the site's name and its coordinates.
func (p *privacy) text(text string) string {
	if text == "" {
		return text
	}
	for i := range p.inText {
		text = p.inText[i].replace(text)
	}
	if p.place != nil {
		text = p.place.replace(text)
	}
	return p.withoutPlace(text)
}

var (
	decimalDegrees = regexp.MustCompile(`[-−+]?[0-9]{1,3}[.,][0-9]{1,15}`)
	degreesMinutes = regexp.MustCompile(`([0-9]{1,3})\s*[°º]\s*([0-9]{1,2}(?:[.,][0-9]+)?)\s*['′’](?:\s*([0-9]{1,2}(?:[.,][0-9]+)?)\s*["″”])?`)
)

// coordinateWord stands in the place of a coordinate in a text.
const coordinateWord = "[coordinate]"

// withoutPlace takes the site's coordinates out of a text, as decimal degrees in any
// rounding of two decimals or more, and as degrees and minutes.
func (p *privacy) withoutPlace(text string) string {
	if !p.lat.Known && !p.lon.Known {
		return text
	}
	text = degreesMinutes.ReplaceAllStringFunc(text, func(found string) string {
		m := degreesMinutes.FindStringSubmatch(found)
		degrees, minutes := numberIn(m[1]), numberIn(strings.Replace(m[2], ",", ".", 1))
		if degrees == nil || minutes == nil {
			return found
		}
		value, step := *degrees+*minutes/60, lastDigit(m[2])/60
		if seconds := numberIn(strings.Replace(m[3], ",", ".", 1)); seconds != nil {
			value, step = value+*seconds/3600, lastDigit(m[3])/3600
		}
		if p.isPlace(value, step) {
			return coordinateWord
		}
		return found
	})
	return decimalDegrees.ReplaceAllStringFunc(text, func(found string) string {
		plain := strings.NewReplacer(",", ".", "−", "-").Replace(found)
		value, step := numberIn(plain), lastDigit(plain)
		if value != nil && step < 0.05 && p.isPlace(math.Abs(*value), step) {
			return coordinateWord
		}
		return found
	})
}

// lastDigit is a unit in the last decimal of a number's text.
func lastDigit(text string) float64 {
	_, decimals, found := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	if !found {
		return 1
	}
	return math.Pow(10, -float64(len(decimals)))
}

// isPlace reports whether a number, cut or rounded to a step, is the site's latitude
// or longitude.
func (p *privacy) isPlace(value, step float64) bool {
	for _, c := range [...]study.Opt[float64]{p.lat, p.lon} {
		if c.Known && math.Abs(math.Abs(c.Value)-value) <= 1.0001*step {
			return true
		}
	}
	return false
}

// earthKm is the length of a degree of latitude on a sphere of the mean radius
// 6371.0088 km (IUGG).
const earthKm = 6371.0088 * math.Pi / 180

// coarsened is the middle of the square of an edge in which a place lies, and half
// the square's diagonal where it is longest, in metres. Squares are counted from the
// south pole and, in each belt, from 180° west.
func coarsened(latitude, longitude, km float64) (lat, lon, uncertaintyM float64) {
	step := km / earthKm
	row := math.Floor((latitude + 90) / step)
	south := -90 + row*step
	lat = math.Min(south+step/2, 90)
	widest := math.Max(math.Cos(math.Pi/180*south), math.Cos(math.Pi/180*math.Min(south+step, 90)))
	if south < 0 && south+step > 0 {
		widest = 1
	}
	across := 360.0
	if c := math.Cos(lat * math.Pi / 180); c > step/360 {
		across = 360 / math.Max(math.Round(360*c/step), 1)
	}
	lon = -180 + (math.Floor((longitude+180)/across)+0.5)*across
	const decimals = 1e4 // of a degree: what a square's middle is rounded to
	lat, lon = math.Round(lat*decimals)/decimals, math.Round(math.Min(lon, 180)*decimals)/decimals
	half := math.Hypot(step/2, across*widest/2)*earthKm*1000 + earthKm*1000/decimals
	return lat, lon, math.Ceil(half)
}

func (p *privacy) placeFacts(quiet *study.Study) dossier.PlaceFacts {
	f := dossier.PlaceFacts{Latitude: known(quiet.Site.LatitudeDeg, 1), Longitude: known(quiet.Site.LongitudeDeg, 1), Name: quiet.Site.Name}
	if p.lat.Known && p.lon.Known {
		_, _, half := coarsened(p.lat.Value, p.lon.Value, p.spec.CoarsenKm)
		f.UncertaintyM, f.Coarsened = &half, true
	}
	return f
}

const preregistrationName = "preregistration.md"

// sentences say what was done.
func (p *privacy) sentences(s *study.Study, photos int) []string {
	out := []string{}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	switch n := len(p.people); {
	case p.spec.NamesOf == "all":
		say("People are named as they are in the study.")
	case n > 0:
		say("People who are no authors are named by number (Person 1, Person 2, …), the same number for the same person everywhere. In free text full names are replaced; names of fewer than %d letters, and parts of names, are not.", shortestInText)
	}
	if p.lat.Known && p.lon.Known {
		say("Coordinates are those of the middle of a square of %g km in which the site lies.", p.spec.CoarsenKm)
		if p.place == nil && s.Site.Name != "" {
			say("The site's name stands as it is, and may tell the place more exactly than the coordinates.")
		}
	}
	if p.place != nil {
		say("The site has another name here than in the study.")
		if p.placeUsed {
			say("The site's own name stood in the title or the question, and was replaced there.")
		}
	}
	if p.spec.WithoutNotes {
		say("Notes of trials and passes, and texts of events and reasons, are left out.")
	}
	if photos > 0 {
		say("Photos are cleaned of what a camera writes into them: place, time, owner. What is seen in them was not looked at.")
	}
	return out
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
	seen := map[string]bool{}
	add := func(text string) {
		if seen[text] {
			return
		}
		seen[text] = true
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
		if strings.EqualFold(bareName(name), bareName(p.Given+" "+p.Family)) {
			return true
		}
	}
	return false
}

var bracketsBehind = regexp.MustCompile(`\s*\([^()]*\)\s*$`)

func bareName(name string) string {
	bare := strings.Join(strings.Fields(bracketsBehind.ReplaceAllString(name, "")), " ")
	if bare == "" {
		return strings.Join(strings.Fields(name), " ")
	}
	return bare
}

// isNobody knows the words that stand in the place of a name.
func isNobody(name string) bool {
	for _, words := range []string{"erased person", "person not named here yet", "person whose name cannot be read"} {
		if strings.HasPrefix(name, words) {
			return true
		}
	}
	return false
}
