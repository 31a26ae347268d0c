package dossier

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// readmeFile is README.txt: what each file is, how to open and to check it, how it is
// to be read. It does not depend on whether the PDF could be printed.
func readmeFile(in Input, h Heading, files []File) []byte {
	var b strings.Builder
	banner := func(text string) {
		b.WriteString(strings.Repeat("*", 78) + "\n")
		wrapText(&b, text)
		b.WriteString(strings.Repeat("*", 78) + "\n\n")
	}
	title := func(t string) {
		b.WriteString("\n" + t + "\n" + strings.Repeat("-", utf8.RuneCountInString(t)) + "\n\n")
	}
	if in.Invented {
		banner(inventedText)
	}
	wrapText(&b, packageTitle(in))
	b.WriteString("\nAuthors:  " + authorsLine(in.People) + "\n")
	b.WriteString("Made:     " + oneLine(h.Made) + ", by Brinefield " + versionText(h.Program) + "\n")
	if l, granted := licenceOf(in.Spec.Licence); granted {
		b.WriteString("Licence:  " + l.title + " (LICENCE.txt)\n")
	} else {
		b.WriteString("Licence:  none is granted (LICENCE.txt)\n")
	}
	if doi := plainDOI(in.Spec.DOI); doi != "" {
		b.WriteString("DOI:      " + doi + "\n")
	}
	b.WriteString("\n")
	wrapText(&b, "A data package of one season: electrodes on the sea floor or a tank's floor, animals that passed them, and the electric field that each of them met.")
	if in.Sealed > 0 {
		b.WriteString("\n")
		wrapText(&b, fmt.Sprintf("The active pairs of %s are sealed: their roles, the fields met in them and all that rests on these are absent.", countText(in.Sealed, "trial", "trials")))
	}

	title("Begin here")
	for _, l := range [][2]string{
		{ReportHTML, "the report, in any browser, without a network"},
		{TablesFolder + "passes.csv", "what every animal met, one row a pass"},
		{SeasonFolder, "the season as it was recorded: a folder that `brinefield analyse season` reads"},
		{DescriptorFile, "Frictionless Data Package: every column with type, unit and meaning"},
		{MetaFile, "Darwin Core Archive, for biodiversity databases"},
		{EMLFile, "metadata as EML 2.2.0"},
	} {
		if l[0] == SeasonFolder || l[0] == DescriptorFile || hasFile(files, l[0]) {
			b.WriteString("  " + l[0] + "\n      " + l[1] + "\n")
		}
	}

	title("How to check it")
	for _, s := range []string{
		"sha256sum -c checksums.sha256\n      (macOS: shasum -a 256 -c checksums.sha256) every file is as it was packed",
		"brinefield verify PACKAGE\n      the same, and tables, links between them, and the seal of the schedule",
		"brinefield dossier PACKAGE --again\n      works everything out again from season/ and study/, and prints what differs",
	} {
		b.WriteString("  " + s + "\n")
	}

	title("How to read it")
	for _, s := range []string{
		"Text is UTF-8. Tables are comma separated with one header row; a text with a comma, a quotation mark or a line break stands in quotation marks, doubled inside. Decimals have a point. In a spreadsheet, import the columns of names as text.",
		"A blank cell was not recorded or is not known. It is never a zero, and never a no.",
		"Numbers have all their digits: they read back as the very value that was worked out.",
		"Units stand at the end of a column's name: nV_per_cm is nV/cm, uA is µA, S_per_m is S/m.",
		"role: active, the pair carried the current in that trial; control, another pair did; silent, none did. Blank: the trial is sealed.",
		"The field that an animal met lies between field_low_nV_per_cm and field_high_nV_per_cm. Without a turn there is no upper bound: the animal's threshold lies above the lower one.",
		"x and y lie in the plane of the bottom, with the study's own origin; heights are above the plate's top face, or above the bottom where there is no plate.",
		"used says whether a pass counts in the estimates; not_used_because says why not.",
	} {
		writeItem(&b, s)
	}
	if len(in.Facts.Privacy) > 0 {
		title("What was left out or changed to protect people and places")
		for _, s := range in.Facts.Privacy {
			writeItem(&b, oneLine(s))
		}
	}

	title("Files")
	figures, photos := 0, 0
	for _, f := range files {
		switch {
		case f.Name == printedFile || f.Name == ReadmeFile || f.Name == DescriptorFile:
		case strings.HasPrefix(f.Name, FiguresFolder) && !strings.HasSuffix(f.Name, ".md"):
			figures++
		case strings.HasPrefix(f.Name, PhotosFolder):
			photos++
		default:
			writeFile(&b, f.Name, f.What)
		}
	}
	if figures > 0 {
		writeFile(&b, FiguresFolder, "Figures for one column (single) and the full width of a page (double) as SVG, PDF and PNG, and the numbers that are drawn as CSV.")
	}
	if photos > 0 {
		writeFile(&b, PhotosFolder, "Photos, "+countText(photos, "file", "files")+", without what tells place and person.")
	}
	if h.PDF != "" {
		writeFile(&b, printedFile, printedWords)
	}
	writeFile(&b, DescriptorFile, "Frictionless Data Package: all files, and of tables every column with type, unit and meaning.")
	writeFile(&b, ChecksumsFile, "SHA-256 of every file but itself.")
	return []byte(b.String())
}

func hasFile(files []File, name string) bool {
	for _, f := range files {
		if f.Name == name {
			return true
		}
	}
	return false
}

// writeItem writes one point of a list, wrapped under itself.
func writeItem(b *strings.Builder, text string) {
	var w strings.Builder
	wrapWidth(&w, text, 74)
	b.WriteString("- " + strings.ReplaceAll(strings.TrimSuffix(w.String(), "\n"), "\n", "\n  ") + "\n")
}

func writeFile(b *strings.Builder, name, what string) {
	b.WriteString("  " + name + "\n")
	if what = oneLine(what); what != "" {
		var w strings.Builder
		wrapWidth(&w, what, 70)
		b.WriteString("      " + strings.ReplaceAll(strings.TrimSuffix(w.String(), "\n"), "\n", "\n      ") + "\n")
	}
}
