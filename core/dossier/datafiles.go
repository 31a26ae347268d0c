package dossier

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
)

// DataFiles are all files of the package that hold data or describe them: season,
// what lies beside it, facts, tables, results, sites, casts, Darwin Core, EML,
// licence, citation. Not figures, reports, README, descriptor and checksums.
//
// The error names what cannot be written, and where.
func DataFiles(in Input) ([]File, error) {
	if in.Study == nil {
		return nil, errors.New("no study is given: a package is made of a season that was read without a fault")
	}
	var out []File
	put := func(name string, b []byte, media, what string) {
		out = append(out, File{Name: name, Bytes: b, Media: media, What: what})
	}
	for _, part := range []struct {
		folder string
		files  map[string][]byte
	}{{SeasonFolder, in.Season}, {StudyFolder, in.Beside}, {"results/", in.Results}, {PhotosFolder, in.Photos}} {
		for _, n := range slices.Sorted(maps.Keys(part.files)) {
			if err := checkName(n); err != nil {
				return nil, fmt.Errorf("%s%s: %w", part.folder, n, err)
			}
			put(part.folder+n, part.files[n], mediaOf(n), whatOfFile(part.folder+n))
		}
	}
	facts, err := indentJSON(in.Facts)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", FactsFile, err)
	}
	put(FactsFile, facts, "application/json", "What the study recorded beside its season: rig, schedule, blinding, permits, footage.")
	for _, t := range Tables(in) {
		put(TablesFolder+t.Name+".csv", t.CSV(), "text/csv", strings.TrimSpace(t.Title+". "+t.Note))
	}
	out = append(out, castFiles(in)...)
	sites, err := sitesFile(in)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", SitesFile, err)
	}
	if sites != nil {
		put(SitesFile, sites, "application/geo+json", "The site as GeoJSON, with pairs and plates.")
	}
	out = append(out, darwinFiles(in)...)
	byName(out)
	eml, err := emlFile(in, out)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", EMLFile, err)
	}
	put(EMLFile, eml, "application/xml", "Metadata as EML 2.2.0: people, place, time, species, methods, every column of the tables.")
	put(LicenceFile, licenceText(in), "text/plain", "What you may do with the package.")
	put(CitationFile, citationFile(in), "text/yaml", "How to cite the package, Citation File Format 1.2.0.")
	byName(out)
	if n := doubled(out); n != "" {
		return nil, fmt.Errorf("%s stands in the package twice; each file needs a name of its own", n)
	}
	return out, nil
}

// Wrap adds README.txt, datapackage.json, dossier.json and checksums.sha256 to
// files, and sorts them by name.
//
// The error names the file that cannot be described, or that stands there twice.
func Wrap(in Input, h Heading, files []File) ([]File, error) {
	out := slices.DeleteFunc(slices.Clone(files), func(f File) bool {
		return slices.Contains([]string{ReadmeFile, DescriptorFile, DossierFile, ChecksumsFile}, f.Name)
	})
	heading, err := indentJSON(h)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", DossierFile, err)
	}
	out = append(out, File{Name: DossierFile, Bytes: heading, Media: "application/json", What: "What the package was made from, by which program, with which choices."})
	byName(out)
	out = append(out, File{Name: ReadmeFile, Bytes: readmeFile(in, h, out), Media: "text/plain", What: "What each file is, how to open and to check it."})
	byName(out)
	for _, f := range out {
		if err := checkName(f.Name); err != nil {
			return nil, fmt.Errorf("%q: %w", f.Name, err)
		}
	}
	if n := doubled(out); n != "" {
		return nil, fmt.Errorf("%s stands in the package twice; each file needs a name of its own", n)
	}
	d, err := describe(in, h, out)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", DescriptorFile, err)
	}
	out = append(out, File{Name: DescriptorFile, Bytes: d, Media: "application/json", What: "Frictionless Data Package."})
	out = append(out, File{Name: ChecksumsFile, Bytes: checksumLines(out), Media: "text/plain", What: "SHA-256 of every other file."})
	byName(out)
	return out, nil
}

func byName(files []File) {
	slices.SortStableFunc(files, func(a, b File) int { return cmp.Compare(a.Name, b.Name) })
}

// doubled is the first name that stands twice in sorted files, capitals or not.
func doubled(files []File) string {
	seen := map[string]bool{}
	for _, f := range files {
		k := strings.ToLower(f.Name)
		if seen[k] {
			return f.Name
		}
		seen[k] = true
	}
	return ""
}

var errBadName = errors.New("this name cannot stand in a package; allowed are letters and digits of ASCII and - . _ +, folders parted by /, no part that begins with a dot")

func checkName(name string) error {
	if name == "" || len(name) > 200 {
		return errBadName
	}
	for part := range strings.SplitSeq(name, "/") {
		if part == "" || strings.HasPrefix(part, ".") {
			return errBadName
		}
		for _, r := range part {
			if r > '~' || !strings.ContainsRune("-._+", r) && !(r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
				return errBadName
			}
		}
	}
	return nil
}

// mediaOf is the media type by the ending of a name.
func mediaOf(name string) string {
	switch strings.ToLower(path.Ext(name)) {
	case ".csv":
		return "text/csv"
	case ".json":
		return "application/json"
	case ".toml":
		return "application/toml"
	case ".md":
		return "text/markdown"
	case ".txt", ".sha256":
		return "text/plain"
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".png":
		return "image/png"
	case ".webp":
		return "image/webp"
	}
	return "application/octet-stream"
}

// fileWords say of known files what they are.
var fileWords = map[string]string{
	"season/study.toml":               "Site, water, bottom, plates, pairs, species and the choices of the analysis.",
	"season/trials.csv":               "Trials as they were recorded.",
	"season/passes.csv":               "Passes of animals as they were recorded.",
	"season/tracks.csv":               "Positions of the head during each pass.",
	"season/individuals.csv":          "Animals that were recognised on sight.",
	"season/clips.csv":                "Clips of footage, and their clocks.",
	"season/water.csv":                "Readings of water casts.",
	"study/schedule.json":             "The schedule of active pairs: its seal, and what was opened of it.",
	"study/preregistration.md":        "Plan that was written down beforehand.",
	"study/changed-after-opening.csv": "Values that were recorded or changed after the active pairs were opened.",
	"study/fixes.csv":                 "Every fix of footage: pixel, place and its uncertainty.",
	"study/footage.json":              "Cameras, clips and poses that the fixes rest on.",
	FindingsFile:                      "Every estimate, as `brinefield analyse season --json` prints it.",
	CurvesFile:                        "Curves of the estimated thresholds.",
}

func whatOfFile(name string) string {
	if w := fileWords[name]; w != "" {
		return w
	}
	if strings.HasPrefix(name, PhotosFolder) {
		return "Photo, without what tells place and person."
	}
	return ""
}
