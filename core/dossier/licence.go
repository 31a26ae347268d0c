package dossier

import "strings"

// licence is what LICENCE.txt and the descriptors say of one.
type licence struct{ id, title, address, means string }

// licences by their SPDX identifiers.
var licences = []licence{
	{
		"CC-BY-4.0", "Creative Commons Attribution 4.0 International", "https://creativecommons.org/licenses/by/4.0/",
		"You may copy, share and change this material for any purpose, also to earn money. In return you name its authors, link to the licence, and say what you changed, without making it look as if the authors stood behind your use.",
	},
	{
		"CC0-1.0", "Creative Commons CC0 1.0 Universal", "https://creativecommons.org/publicdomain/zero/1.0/",
		"The authors give up all rights that the law lets them give up: you may use this material for any purpose and need not ask. To cite it remains good scholarly practice.",
	},
	{
		"CC-BY-NC-4.0", "Creative Commons Attribution-NonCommercial 4.0 International", "https://creativecommons.org/licenses/by-nc/4.0/",
		"You may copy, share and change this material for purposes that do not aim at commercial gain. In return you name its authors, link to the licence, and say what you changed.",
	},
	{
		"ODC-By-1.0", "Open Data Commons Attribution License v1.0", "https://opendatacommons.org/licenses/by/1-0/",
		"You may copy, share and change this database and make works from it. In return you name its source wherever you use the database or something made from it in public.",
	},
}

// licenceOf is the licence of an SPDX identifier; false where none is granted. One
// that is not in the list is known by its identifier alone.
func licenceOf(id string) (licence, bool) {
	id = oneLine(id)
	if id == "" {
		return licence{}, false
	}
	for _, l := range licences {
		if strings.EqualFold(l.id, id) {
			return l, true
		}
	}
	name := strings.Map(func(r rune) rune {
		if r > '~' || !strings.ContainsRune("-._", r) && !(r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
			return '-'
		}
		return r
	}, id)
	return licence{id: name, title: id}, true
}

func licenceText(in Input) []byte {
	var b strings.Builder
	if in.Invented {
		b.WriteString(inventedText + "\n\n")
	}
	b.WriteString("Licence of this package: " + packageTitle(in) + "\n\n")
	l, granted := licenceOf(in.Spec.Licence)
	switch {
	case !granted:
		wrapText(&b, "No licence is granted. The law of your country says what you may do without one, which is often little more than to read. Ask the authors before you share or use the data.")
	case l.address == "":
		wrapText(&b, l.title)
		b.WriteString("\n")
		wrapText(&b, "The authors name this licence; its text is to be had from them.")
	default:
		b.WriteString(l.title + "\nSPDX-License-Identifier: " + l.id + "\n" + l.address + "\n\nIn short, and in our words; the text at that address is what counts:\n\n")
		wrapText(&b, l.means)
	}
	b.WriteString("\nTo be named: " + authorsLine(in.People) + "\n")
	return []byte(b.String())
}

// authorsLine are the authors as they are cited.
func authorsLine(people []Person) string {
	var names []string
	for _, p := range authorsOf(people) {
		names = append(names, personName(p))
	}
	if len(names) == 0 {
		return notRecordedText
	}
	return strings.Join(names, ", ")
}

// notRecordedText stands where a format demands something that nobody wrote down.
const notRecordedText = "not recorded"

// wrapText writes text in lines of at most 78 letters.
func wrapText(b *strings.Builder, text string) { wrapWidth(b, text, 78) }

func wrapWidth(b *strings.Builder, text string, width int) {
	n := 0
	for i, w := range strings.Fields(text) {
		length := len([]rune(w))
		switch {
		case i == 0:
		case n+1+length > width:
			b.WriteByte('\n')
			n = 0
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(w)
		n += length
	}
	b.WriteByte('\n')
}
