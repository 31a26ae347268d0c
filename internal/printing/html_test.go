package printing

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/net/html"

	"brinefield/core/dossier"
)

// parsed is a page as a browser sees it: golang.org/x/net/html follows the parsing
// rules of the HTML standard.
type parsed struct {
	elements []*html.Node
	text     string // of the body, with single spaces
	style    string
}

func parsePage(t testing.TB, page []byte) *parsed {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	p := &parsed{}
	var text strings.Builder
	for n := range root.Descendants() {
		switch n.Type {
		case html.ElementNode:
			p.elements = append(p.elements, n)
			if slices.Contains([]string{"p", "td", "th", "h1", "h2", "h3", "h4", "li", "figcaption", "caption"}, n.Data) {
				text.WriteByte(' ')
			}
		case html.TextNode:
			if n.Parent.Data == "style" {
				p.style += n.Data
			} else {
				text.WriteString(n.Data)
			}
		}
	}
	p.text = strings.Join(strings.Fields(text.String()), " ")
	return p
}

func attr(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

var allowed = strings.Fields("html head meta title style body a p header h1 h2 h3 h4 nav ul li span main div strong b i code sup table caption thead tr th tbody td figure img figcaption")

// harmless fails where the page could run or load anything.
func (p *parsed) harmless(t testing.TB) {
	t.Helper()
	policies := 0
	for _, n := range p.elements {
		if !slices.Contains(allowed, n.Data) {
			t.Errorf("an element <%s>", n.Data)
		}
		for _, a := range n.Attr {
			switch {
			case strings.HasPrefix(a.Key, "on"), a.Key == "style", a.Key == "srcset":
				t.Errorf("<%s %s>", n.Data, a.Key)
			case a.Key == "src" && !strings.HasPrefix(a.Val, "data:image/svg+xml;base64,"):
				t.Errorf("src %q", a.Val)
			case a.Key == "href" && !strings.HasPrefix(a.Val, "#") && !strings.HasPrefix(a.Val, "https://"):
				t.Errorf("href %q", a.Val)
			case a.Key == "http-equiv":
				if c, _ := attr(n, "content"); a.Val == "Content-Security-Policy" && strings.HasPrefix(c, "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:") {
					policies++
				}
			}
		}
	}
	if policies != 1 {
		t.Errorf("%d policies", policies)
	}
	for _, u := range regexp.MustCompile(`url\([^)]{0,40}`).FindAllString(p.style, -1) {
		if !strings.HasPrefix(u, "url(data:font/woff;base64,") {
			t.Errorf("the style loads %s", u)
		}
	}
	if strings.Contains(p.style, "@import") {
		t.Error("the style imports another")
	}
}

// sound fails where the page breaks a rule of WCAG 2.2 that can be seen in its
// elements: language, title, one main heading, no level left out, links and labels
// that lead somewhere, heads of tables, texts for pictures.
func (p *parsed) sound(t testing.TB) {
	t.Helper()
	ids := map[string]bool{}
	count := map[string]int{}
	level := 0
	for _, n := range p.elements {
		count[n.Data]++
		if id, ok := attr(n, "id"); ok {
			if id == "" || ids[id] {
				t.Errorf("id %q is empty or there twice", id)
			}
			ids[id] = true
		}
		switch n.Data {
		case "html":
			if l, _ := attr(n, "lang"); l != "en" {
				t.Errorf("lang %q", l)
			}
		case "th":
			if s, _ := attr(n, "scope"); s != "col" && s != "row" {
				t.Errorf("th with scope %q", s)
			}
		case "img":
			if _, ok := attr(n, "alt"); !ok {
				t.Error("a picture without a text in its place")
			}
		case "h1", "h2", "h3", "h4":
			l := int(n.Data[1] - '0')
			if l > level+1 {
				t.Errorf("a heading of level %d after one of level %d", l, level)
			}
			level = l
		}
	}
	for _, n := range p.elements {
		href, _ := attr(n, "href")
		label, _ := attr(n, "aria-labelledby")
		for _, to := range []string{strings.TrimPrefix(href, "#"), label} {
			if to != "" && !strings.HasPrefix(to, "https://") && !ids[to] {
				t.Errorf("nothing has the id %q", to)
			}
		}
	}
	for _, one := range []string{"title", "main", "h1"} {
		if count[one] != 1 {
			t.Errorf("%d of <%s>", count[one], one)
		}
	}
}

func TestHTML(t *testing.T) {
	page, err := New(Options{}).HTML(sample(), sampleFigures(t))
	if err != nil {
		t.Fatal(err)
	}
	p := parsePage(t, page)
	p.harmless(t)
	p.sound(t)
	for _, s := range []string{
		"1.1 Water and bottom", "2 Results of Raja clavata", "Table 2. What each pass met.", "Figure 1. Share of passes answered. Detection model", "Figure 2. Trials of the season. Not drawn: no trial has a time.",
		"Figure 3. Not drawn: this dossier has no figure of that name.", "Caution. Current in sea water near divers.", "Standoff of metal: not recorded", "Median field (nV/cm)", inventedText,
	} {
		if !strings.Contains(p.text, s) {
			t.Errorf("%q is not on the page", s)
		}
	}
	links := 0
	for _, n := range p.elements {
		if href, _ := attr(n, "href"); href == "#figure-curve" || href == "https://doi.org/10.1371/journal.pbio.3000410" {
			links++
		}
	}
	if links != 2 || !bytes.Contains(page, []byte("data:image/svg+xml;base64,"+base64.StdEncoding.EncodeToString(sampleFigures(t)[0].SVG))) {
		t.Errorf("%d links", links)
	}
	for _, s := range []string{`@top-right{content:"Invented demo data"`, "@page turned{size:landscape}", `class="table turned"`, "thead{display:table-header-group}"} {
		if !bytes.Contains(page, []byte(s)) {
			t.Errorf("the page lacks %s", s)
		}
	}
	if len(page) > 200_000 {
		t.Errorf("%d bytes for a short page: are the fonts whole?", len(page))
	}
	bare, err := New(Options{}).HTML(dossier.Document{}, nil)
	if err != nil || bytes.Contains(bare, []byte("nvented demo")) {
		t.Errorf("a report of nothing: %v", err)
	}
	parsePage(t, bare).sound(t)
}

// unpacked undoes WOFF 1.0 (W3C 2012, 3 to 5) and checks its sums (OpenType 1.9,
// head: all 32-bit words of a font add up to 0xB1B0AFBA).
func unpacked(t *testing.T, woff []byte) []byte {
	t.Helper()
	if string(woff[:4]) != "wOFF" || int(binary.BigEndian.Uint32(woff[8:])) != len(woff) {
		t.Fatalf("% x", woff[:16])
	}
	n := int(be16(woff[12:]))
	head, body := []byte{0, 1, 0, 0, 0, byte(n), 0, 0, 0, 0, 0, 0}, []byte{}
	power, log := 1, 0
	for power*2 <= n {
		power, log = power*2, log+1
	}
	binary.BigEndian.PutUint16(head[6:], uint16(16*power))
	binary.BigEndian.PutUint16(head[8:], uint16(log))
	binary.BigEndian.PutUint16(head[10:], uint16(16*(n-power)))
	for i := range n {
		e := woff[44+20*i:]
		data := woff[be32(e[4:]):][:be32(e[8:])]
		if be32(e[8:]) < be32(e[12:]) {
			r, err := zlib.NewReader(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			if data, err = io.ReadAll(r); err != nil {
				t.Fatal(err)
			}
		}
		if len(data) != int(be32(e[12:])) {
			t.Fatalf("%s: %d bytes", e[:4], len(data))
		}
		head = append(head, e[:4]...)
		for _, v := range []uint32{be32(e[16:]), uint32(12 + 16*n + len(body)), uint32(len(data))} {
			head = binary.BigEndian.AppendUint32(head, v)
		}
		body = append(body, data...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	font := append(head, body...)
	if sum := checksum(font); sum != 0xB1B0AFBA {
		t.Errorf("the font adds up to %08X", sum)
	}
	if got := int(be32(woff[16:])); got != len(font) {
		t.Errorf("it says %d bytes, and is %d", got, len(font))
	}
	return font
}

// The letters that are kept are as wide as before for another reader of fonts
// (fpdf), composite ones among them; the rest is gone.
func TestSubset(t *testing.T) {
	const keep = "Scylå Ǻ é fiAV – −µ×ρ"
	chars := map[rune]bool{}
	for _, r := range keep {
		chars[r] = true
	}
	woff, err := subset(liberationserifregular.TTF, chars, "Dossier Serif")
	if err != nil {
		t.Fatal(err)
	}
	font := unpacked(t, woff)
	if len(woff) > 20_000 {
		t.Errorf("%d bytes for %d letters", len(woff), len(chars))
	}
	width := func(ttf []byte, s string) float64 {
		f := fpdf.New("P", "pt", "A4", "")
		f.AddUTF8FontFromBytes("x", "", bytes.Clone(ttf))
		f.SetFont("x", "", 100)
		if f.Err() {
			t.Fatal(f.Error())
		}
		return f.GetStringWidth(s)
	}
	for r := range chars {
		if a, b := width(liberationserifregular.TTF, string(r)), width(font, string(r)); a != b || a == 0 {
			t.Errorf("%c is %g wide, and was %g", r, b, a)
		}
	}
	cut := tablesOf(font)
	whole := tablesOf(liberationserifregular.TTF)
	has, err := characters(cut["cmap"])
	if err != nil {
		t.Fatal(err)
	}
	had, _ := characters(whole["cmap"])
	for _, r := range keep + "BZж" {
		if want := had(r); has(r) != want && chars[r] || has(r) != 0 && !chars[r] {
			t.Errorf("%c is glyph %d, and was %d", r, has(r), want)
		}
	}
	// Outlines of a composite letter, and of what it is made of, are the same bytes.
	at, before := glyphOffsets(cut["loca"], 2601, true), glyphOffsets(whole["loca"], 2601, be16(whole["head"][50:]) != 0)
	parts := append(components(whole["glyf"][before[had('å')]:]), had('å'))
	if len(parts) < 3 {
		t.Fatalf("å is made of %d", len(parts))
	}
	for _, g := range parts {
		want := whole["glyf"][before[g]:before[g+1]]
		if got := cut["glyf"][at[g]:at[g+1]]; len(got) < len(want) || !bytes.Equal(got[:len(want)], want) {
			t.Errorf("glyph %d has other outlines", g)
		}
	}
	for _, bad := range [][]byte{nil, {0, 1, 0, 0}, liberationserifregular.TTF[:1000], bytes.Repeat([]byte{0xff}, 5000)} {
		if _, err := subset(bad, chars, "x"); err == nil {
			t.Errorf("%d bytes were taken for a font", len(bad))
		}
	}
}

func TestTextInStyles(t *testing.T) {
	if got := cssText("a\"b\\</style>\n“é”"); got != `"a\22 b\5c \3c \2f style\3e  “é”"` {
		t.Error(got)
	}
	for in, want := range map[string]string{"3 × 10⁻⁵ %": "3 × 10|−5| %", "cm² s": "cm² s", "10⁶": "10|6|", "10⁶ or 10⁻¹²": "10|6| or 10|−12|"} {
		if got := strings.Join(exponents(in), "|"); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
}

// Numbers and ids of blocks, and what links find.
func TestOutline(t *testing.T) {
	h := func(level int, anchor string) dossier.Block {
		return dossier.Block{Kind: dossier.HeadingBlock, Level: level, Anchor: anchor}
	}
	o := layOut(dossier.Document{Blocks: []dossier.Block{h(2, "a"), h(2, "A"), h(3, "9 lives"), h(1, ""), h(3, "content"), {Kind: dossier.FigureBlock, Figure: "x"}, {Kind: dossier.FigureBlock, Figure: "x"}, {Kind: dossier.TableBlock}, {Kind: dossier.TableBlock, Table: &dossier.Table{Name: "x"}}}})
	var got []string
	for _, p := range o.parts {
		got = append(got, p.number+" "+p.id)
	}
	// A first heading is of level 1 whatever it says; none jumps a level.
	if want := "1 a,1.1 a-2,1.1.1 section-1-1-1,2 section-2,2.1 content-2,1 figure-x,2 figure-x-2,1 table-x"; strings.Join(got, ",") != want {
		t.Errorf("%s\n%s", strings.Join(got, ","), want)
	}
	for link, want := range map[string]string{
		"#a": "a ", "#A": "a-2 ", "#figure-x": "figure-x ", "#no": " ", "https://doi.org/10.1/x y": " https://doi.org/10.1/x%20y", "http://doi.org/": " ", "javascript:alert(1)": " ", "//x": " ", "": " ", "https:x": " ", "https://a:b@c/": " ",
	} {
		if id, address := o.place(link); fmt.Sprint(id, " ", address) != want {
			t.Errorf("%q leads to %q, %q", link, id, address)
		}
	}
}
