package season

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"brinefield/core/study"
)

// FromRecords makes the study of records, as [Read] does of the folder that
// they are the text of: the tables in the order of the records, study.toml in
// that of the kinds. A field that is blank is absent. Records of kinds beside
// [study.SeasonKinds] are left alone.
//
// The study is never nil, and the faults are those of Read, with the places of
// that folder; [Places.Of] says which record and field each is about. What is
// read without a fault can be written: [Records] and [Write] take it. Any
// records are safe.
func FromRecords(records []study.Record, opt Options) (*study.Study, []Fault, Places) {
	r := newReader(nil, opt)
	r.studyRead = true
	d := newDocument(r)
	byKind := recordsByKind(records)
	d.addAll(byKind)
	r.readDocument(&section{r: r, name: StudyFile, node: d.root})

	r.records = map[string]*recordRows{}
	for kind, of := range recordTables {
		needed := kind == study.KindTrial || kind == study.KindPass || kind == study.KindCast && r.study.Water.CastFile != ""
		if needed || len(byKind[kind]) > 0 {
			r.records[of.file] = newRecordRows(kind, byKind[kind])
		}
	}
	r.readTables()
	r.checkSize()
	return r.study, r.faults.sorted(), Places{document: d.places, tables: r.records}
}

func recordsByKind(records []study.Record) map[study.Kind][]*study.Record {
	byKind := map[study.Kind][]*study.Record{}
	for i := range records {
		byKind[records[i].Kind] = append(byKind[records[i].Kind], &records[i])
	}
	return byKind
}

// checkSize tells a study.toml that could be written but not read again.
func (r *reader) checkSize() {
	if len(r.faults.placed) > 0 {
		return
	}
	w := &writer{study: r.study}
	if wrong := tooLarge(string(w.studyTOML())); wrong != "" {
		r.faults.add(0, Fault{File: StudyFile, Row: 1, Column: "title", Wrong: wrong, Expected: "expected shorter texts"})
	}
}

// document makes the tree of study.toml. Its lines are those of the canonical
// layout: a key a line, a blank line before each header.
type document struct {
	r      *reader
	root   *node
	line   int      // the last one
	lines  []string // their text, for [Folder]
	places []documentPlace
	stated bool           // there is a record of the study itself
	plates map[string]int // the lines of plates without a label, by ID
}

func newDocument(r *reader) *document {
	d := &document{r: r, root: newTable(1), line: 1, lines: []string{"format = 1"}, plates: map[string]int{}}
	d.root.put("format", 1, &node{kind: scalarNode, line: 1, raw: "1"})
	d.places = []documentPlace{{row: 1, record: &study.Record{Kind: study.KindStudy}}}
	return d
}

func (d *document) fault(line int, key, found, wrong, expected string) {
	d.r.faults.add(0, Fault{File: StudyFile, Row: line, Column: key, Found: found, Wrong: wrong, Expected: expected})
}

// lay adds a line.
func (d *document) lay(text string) {
	d.line++
	d.lines = append(d.lines, text)
}

func (d *document) addAll(byKind map[study.Kind][]*study.Record) {
	for _, kind := range study.SeasonKinds {
		if _, ok := sectionKeys[kind]; !ok {
			continue
		}
		for _, record := range byKind[kind] {
			d.add(record)
		}
	}
}

// add lays out one record.
func (d *document) add(r *study.Record) {
	in := d.section(r)
	if r.Table != nil {
		d.fault(in.line, string(r.Kind), "", "a "+string(r.Kind)+" holds rows of its own", "expected fields alone")
	}
	if key := idKeys[r.Kind]; key != "" {
		d.identify(in, r, key)
	}
	specs := sectionKeys[r.Kind]
	for _, spec := range specs {
		d.put(in, spec.name, r.Fields[spec.name], spec.kind)
	}
	var unknown []string
	for name := range r.Fields {
		if !slices.ContainsFunc(specs, func(s keySpec) bool { return s.name == name }) && !(r.Kind == study.KindPlate && name == idKeys[r.Kind]) {
			unknown = append(unknown, name)
		}
	}
	slices.Sort(unknown)
	for _, name := range unknown {
		d.put(in, name, r.Fields[name], textKey)
	}
}

// section opens the section of a record: the top of the file for the study
// itself, [name] for what there is once, [[name]] for the rest.
func (d *document) section(r *study.Record) *node {
	name := string(r.Kind)
	if r.Kind == study.KindStudy {
		if d.stated {
			d.lay("")
			d.places = append(d.places, documentPlace{d.line, r})
			d.fault(d.line, "title", "", "the study itself stands twice", "expected one title and one question")
			return newTable(d.line)
		}
		d.stated, d.places[0].record = true, r
		return d.root
	}
	d.lay("")
	if _, many := idKeys[r.Kind]; many {
		d.lay("[[" + name + "]]")
	} else {
		d.lay("[" + name + "]")
	}
	d.places = append(d.places, documentPlace{d.line, r})
	in := newTable(d.line)
	now := d.root.values[name]
	switch _, many := idKeys[r.Kind]; {
	case now == nil && many:
		d.root.put(name, d.line, &node{kind: arrayNode, line: d.line, repeated: true, items: []*node{in}})
	case now == nil:
		d.root.put(name, d.line, in)
	case now.kind == arrayNode && now.repeated:
		now.items = append(now.items, in)
	case now.kind == tableNode:
		d.fault(d.line, name, "["+name+"]", "["+name+"] stands twice, first in line "+itoa(now.line), "expected ["+name+"] once")
	}
	return in
}

// identify puts the ID of a record under its key.
func (d *document) identify(in *node, r *study.Record, key string) {
	id := r.ID
	if r.Kind == study.KindPlate {
		label := strings.TrimFunc(r.Fields[key], blankRune)
		if label == "" && saysNoLabel(tidyName(id)) {
			if first, doubled := d.plates[id]; doubled {
				d.fault(in.line, key, id, quoted(id)+" stands twice, first in line "+itoa(first), "expected each plate once")
			}
			d.plates[id] = in.line
			return
		}
		id = cmp.Or(label, id)
	}
	d.put(in, key, id, textKey)
}

// put lays out one field; one that is blank is absent.
func (d *document) put(in *node, key, text string, kind keyKind) {
	text = strings.TrimFunc(text, blankRune)
	if text == "" {
		return
	}
	d.lay(tomlKeyText(key) + " = " + tomlValueText(text, kind))
	switch {
	case in.values[key] != nil:
		d.fault(d.line, key, text, "the key "+quoted(key)+" is set twice", "expected each key once")
		return
	case in == d.root && key != "title" && key != "question" && sectionKeys[study.Kind(key)] != nil:
		d.fault(d.line, key, text, "unknown key "+quoted(key)+" in the study", "expected title or question; "+key+" is a record of its own")
		return
	case !utf8.ValidString(text):
		meant := fromLatin1(text)
		d.fault(d.line, key, meant, "a character that is not UTF-8 (probably in "+quoted(meant)+")", "expected UTF-8")
		text = meant
	}
	in.put(key, d.line, valueNode(text, kind, d.line))
}

// valueNode is a field as the value of a key. What is no list stands as a
// plain word, which the reader refuses by name.
func valueNode(text string, kind keyKind, line int) *node {
	switch kind {
	case textKey:
		return &node{kind: stringNode, line: line, text: text}
	case listKey:
		if tooLarge(text) != "" || text[0] != '[' {
			break
		}
		root, err := parseTOML("v = " + unixBreaks(text))
		if err != nil || len(root.keys) != 1 || root.values["v"].kind != arrayNode {
			break
		}
		root.values["v"].moveTo(line)
		return root.values["v"]
	}
	return &node{kind: scalarNode, line: line, raw: text}
}

// moveTo puts a value and what it holds on one line.
func (n *node) moveTo(line int) {
	n.line = line
	for _, item := range n.items {
		item.moveTo(line)
	}
	for key, v := range n.values {
		n.keyLines[key] = line
		v.moveTo(line)
	}
}
