package printing

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"path"
	"strings"
	"testing"
)

// wordDocument opens a document as ECMA-376, part 2, says: every part is well
// formed and has a content type, every relationship a target, every reference a
// relationship, every link inside a bookmark. It gives the text.
func wordDocument(t testing.TB, docx []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(docx), int64(len(docx)))
	if err != nil {
		t.Fatal(err)
	}
	parts := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if parts[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
	}
	if z.File[0].Name != "[Content_Types].xml" {
		t.Errorf("it begins with %s", z.File[0].Name)
	}
	types := map[string]bool{} // by extension, or by name with a slash before it
	each(t, "[Content_Types].xml", parts, func(e xml.StartElement) {
		types[value(e, "Extension")] = true
		types[value(e, "PartName")] = true
		if name := value(e, "PartName"); name != "" && parts[name[1:]] == nil {
			t.Errorf("there is no %s", name)
		}
	})
	relations := map[string]bool{}
	each(t, "word/_rels/document.xml.rels", parts, func(e xml.StartElement) {
		id, target := value(e, "Id"), value(e, "Target")
		if e.Name.Local != "Relationship" {
			return
		}
		if relations[id] {
			t.Errorf("two relationships %s", id)
		}
		relations[id] = true
		if outside := value(e, "TargetMode") == "External"; outside && !strings.HasPrefix(target, "https://") || !outside && parts[path.Join("word", target)] == nil {
			t.Errorf("%s leads to %s", id, target)
		}
	})
	each(t, "_rels/.rels", parts, func(e xml.StartElement) {
		if target := value(e, "Target"); e.Name.Local == "Relationship" && parts[target] == nil {
			t.Errorf("there is no %s", target)
		}
	})
	styles, marks, anchors := map[string]bool{}, map[string]bool{}, map[string]bool{}
	each(t, "word/styles.xml", parts, func(e xml.StartElement) { styles[value(e, "styleId")] = true })
	for name := range parts {
		if ext := strings.TrimPrefix(path.Ext(name), "."); name != "[Content_Types].xml" && !types["/"+name] && (ext == "xml" || !types[ext]) {
			t.Errorf("%s has no content type", name)
		}
		if !strings.HasSuffix(name, ".png") {
			each(t, name, parts, func(xml.StartElement) {})
		}
	}
	text := each(t, "word/document.xml", parts, func(e xml.StartElement) {
		for _, a := range e.Attr {
			if a.Name.Space == nsR && !relations[a.Value] {
				t.Errorf("no relationship %s", a.Value)
			}
		}
		switch e.Name.Local {
		case "pStyle", "rStyle", "tblStyle":
			if !styles[value(e, "val")] {
				t.Errorf("no style %s", value(e, "val"))
			}
		case "bookmarkStart":
			if n := value(e, "name"); marks[n] || len(n) > 40 {
				t.Errorf("bookmark %q", n)
			}
			marks[value(e, "name")] = true
		case "hyperlink":
			anchors[value(e, "anchor")] = true
		}
	})
	for a := range anchors {
		if a != "" && !marks[a] {
			t.Errorf("no bookmark %s", a)
		}
	}
	return text
}

func value(e xml.StartElement, key string) string {
	for _, a := range e.Attr {
		if a.Name.Local == key {
			return a.Value
		}
	}
	return ""
}

// each reads a part from end to end, and gives its text.
func each(t testing.TB, name string, parts map[string][]byte, do func(xml.StartElement)) string {
	t.Helper()
	var text strings.Builder
	for d := xml.NewDecoder(bytes.NewReader(parts[name])); ; {
		token, err := d.Token()
		if err == io.EOF {
			return text.String()
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			do(e)
			if e.Name.Local == "p" {
				text.WriteByte('\n')
			}
		case xml.CharData:
			text.Write(e)
		}
	}
}

func TestDOCX(t *testing.T) {
	d := sample()
	docx, err := New(Options{}).DOCX(d, sampleFigures(t))
	if err != nil {
		t.Fatal(err)
	}
	text := wordDocument(t, docx)
	for _, s := range []string{
		"\n" + d.Title + "\n", "\nWater and bottom\n", "\nTable 1. Fields at which half of the passes are answered.\n", "\nFigure 1. Share of passes answered. Detection model with its 95 % band for Scyliorhinus canicula (148 passes, 17 individuals).\n",
		"[not recorded]", "\nFigure 3. [Not drawn: this dossier has no figure of that name.] \n", inventedText,
	} {
		if !strings.Contains(text, s) {
			t.Errorf("%q is not in it", s)
		}
	}
	z, _ := zip.NewReader(bytes.NewReader(docx), int64(len(docx)))
	parts := map[string][]byte{}
	for _, name := range []string{"word/document.xml", "docProps/core.xml", "word/header1.xml", "word/media/figure1.png"} {
		f, err := z.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		parts[name], _ = io.ReadAll(f)
	}
	for name, want := range map[string][]string{
		"word/document.xml": {
			`<w:tblHeader/>`, `w:orient="landscape"`, `descr="The share rises from 0.1 at 2 nV/cm to 0.9 at 90 nV/cm."`, `<w:pStyle w:val="Heading1"/>`, `<w:i/>`,
			`<wp:extent cx="640080" cy="426720"/>`, // 210 by 140 dots at 300 an inch, 914 400 units an inch
		},
		"docProps/core.xml": {`W3CDTF">2026-11-29T00:00:00Z<`}, "word/header1.xml": {inventedShort},
	} {
		for _, w := range want {
			if !bytes.Contains(parts[name], []byte(w)) {
				t.Errorf("%s lacks %s", name, w)
			}
		}
	}
	if !bytes.Equal(parts["word/media/figure1.png"], sampleFigures(t)[0].PNG) {
		t.Error("the figure is another")
	}
}
