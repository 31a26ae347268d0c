package printing

import (
	"strings"

	"brinefield/core/dossier"
)

// Namespaces of ECMA-376, part 1 (transitional).
const (
	xmlHead = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	nsW     = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
	nsR     = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	nsWP    = "http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing"
	nsA     = "http://schemas.openxmlformats.org/drawingml/2006/main"
	nsPic   = "http://schemas.openxmlformats.org/drawingml/2006/picture"
	nsRels  = "http://schemas.openxmlformats.org/package/2006/relationships"
	nsCT    = "http://schemas.openxmlformats.org/package/2006/content-types"

	wordType = "application/vnd.openxmlformats-officedocument.wordprocessingml."
)

const docxTypes = xmlHead + `<Types xmlns="` + nsCT + `">` +
	`<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
	`<Default Extension="xml" ContentType="application/xml"/><Default Extension="png" ContentType="image/png"/>` +
	`<Override PartName="/word/document.xml" ContentType="` + wordType + `document.main+xml"/>` +
	`<Override PartName="/word/styles.xml" ContentType="` + wordType + `styles+xml"/>` +
	`<Override PartName="/word/numbering.xml" ContentType="` + wordType + `numbering+xml"/>` +
	`<Override PartName="/word/settings.xml" ContentType="` + wordType + `settings+xml"/>` +
	`<Override PartName="/word/header1.xml" ContentType="` + wordType + `header+xml"/>` +
	`<Override PartName="/word/footer1.xml" ContentType="` + wordType + `footer+xml"/>` +
	`<Override PartName="/docProps/core.xml" ContentType="application/vnd.openxmlformats-package.core-properties+xml"/>` +
	`<Override PartName="/docProps/app.xml" ContentType="application/vnd.openxmlformats-officedocument.extended-properties+xml"/></Types>`

const docxRels = xmlHead + `<Relationships xmlns="` + nsRels + `">` +
	`<Relationship Id="document" Type="` + nsR + `/officeDocument" Target="word/document.xml"/>` +
	`<Relationship Id="core" Type="http://schemas.openxmlformats.org/package/2006/relationships/metadata/core-properties" Target="docProps/core.xml"/>` +
	`<Relationship Id="app" Type="` + nsR + `/extended-properties" Target="docProps/app.xml"/></Relationships>`

const docxApp = xmlHead + `<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"><Application>` + ownName + `</Application></Properties>`

const docxSettings = xmlHead + `<w:settings xmlns:w="` + nsW + `"><w:zoom w:percent="100"/><w:compat><w:compatSetting w:name="compatibilityMode" w:uri="http://schemas.microsoft.com/office/word" w:val="15"/></w:compat></w:settings>`

func (w *docx) relationships() string {
	var b strings.Builder
	b.WriteString(xmlHead + `<Relationships xmlns="` + nsRels + `">`)
	for _, r := range [][2]string{{"styles", "styles.xml"}, {"numbering", "numbering.xml"}, {"settings", "settings.xml"}, {"header", "header1.xml"}, {"footer", "footer1.xml"}} {
		b.WriteString(`<Relationship Id="` + r[0] + `" Type="` + nsR + "/" + r[0] + `" Target="` + r[1] + `"/>`)
	}
	for _, m := range w.media {
		id := strings.TrimSuffix(strings.TrimPrefix(m.name, "media/"), ".png")
		b.WriteString(`<Relationship Id="` + id + `" Type="` + nsR + `/image" Target="` + m.name + `"/>`)
	}
	for _, address := range w.order {
		b.WriteString(`<Relationship Id="` + w.links[address] + `" Type="` + nsR + `/hyperlink" Target="` + esc(address) + `" TargetMode="External"/>`)
	}
	return b.String() + `</Relationships>`
}

// docxCore are the properties that a library shows; their date is that of the
// document, never today.
func docxCore(d dossier.Document) string {
	date := dateOf(d).Format("2006-01-02T15:04:05Z")
	author := clean(d.Authors)
	if author == "" {
		author = ownName
	}
	return xmlHead + `<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">` +
		`<dc:title>` + esc(titleOf(d)) + `</dc:title><dc:subject>` + esc(d.Subtitle) + `</dc:subject><dc:creator>` + esc(author) + `</dc:creator><dc:language>en</dc:language>` +
		`<dcterms:created xsi:type="dcterms:W3CDTF">` + date + `</dcterms:created><dcterms:modified xsi:type="dcterms:W3CDTF">` + date + `</dcterms:modified></cp:coreProperties>`
}

// docxHeader stands on each page: the title, and that data are invented.
func docxHeader(d dossier.Document) string {
	inner := `<w:p><w:pPr><w:pStyle w:val="Header"/></w:pPr>` + span("", short(titleOf(d), 80)) + `</w:p>`
	if d.Invented {
		inner += `<w:p><w:pPr><w:pStyle w:val="Header"/></w:pPr>` + span(`<w:b/><w:color w:val="8A3B00"/>`, inventedShort) + `</w:p>`
	}
	return xmlHead + `<w:hdr xmlns:w="` + nsW + `">` + inner + `</w:hdr>`
}

const docxFooter = xmlHead + `<w:ftr xmlns:w="` + nsW + `"><w:p><w:pPr><w:pStyle w:val="Footer"/></w:pPr>` +
	`<w:fldSimple w:instr=" PAGE "><w:r><w:t>1</w:t></w:r></w:fldSimple><w:r><w:t xml:space="preserve"> / </w:t></w:r><w:fldSimple w:instr=" NUMPAGES "><w:r><w:t>1</w:t></w:r></w:fldSimple></w:p></w:ftr>`

// docxNumbering numbers the headings (1, 1.1, 1.1.1) and puts bullets before lists.
const docxNumbering = xmlHead + `<w:numbering xmlns:w="` + nsW + `"><w:abstractNum w:abstractNumId="0"><w:multiLevelType w:val="multilevel"/>` +
	`<w:lvl w:ilvl="0"><w:start w:val="1"/><w:numFmt w:val="decimal"/><w:pStyle w:val="Heading1"/><w:lvlText w:val="%1"/><w:lvlJc w:val="left"/><w:pPr><w:ind w:left="567" w:hanging="567"/></w:pPr></w:lvl>` +
	`<w:lvl w:ilvl="1"><w:start w:val="1"/><w:numFmt w:val="decimal"/><w:pStyle w:val="Heading2"/><w:lvlText w:val="%1.%2"/><w:lvlJc w:val="left"/><w:pPr><w:ind w:left="567" w:hanging="567"/></w:pPr></w:lvl>` +
	`<w:lvl w:ilvl="2"><w:start w:val="1"/><w:numFmt w:val="decimal"/><w:pStyle w:val="Heading3"/><w:lvlText w:val="%1.%2.%3"/><w:lvlJc w:val="left"/><w:pPr><w:ind w:left="680" w:hanging="680"/></w:pPr></w:lvl></w:abstractNum>` +
	`<w:abstractNum w:abstractNumId="1"><w:multiLevelType w:val="singleLevel"/><w:lvl w:ilvl="0"><w:start w:val="1"/><w:numFmt w:val="bullet"/><w:lvlText w:val="•"/><w:lvlJc w:val="left"/><w:pPr><w:ind w:left="454" w:hanging="284"/></w:pPr></w:lvl></w:abstractNum>` +
	`<w:num w:numId="1"><w:abstractNumId w:val="0"/></w:num><w:num w:numId="2"><w:abstractNumId w:val="1"/></w:num></w:numbering>`

// paragraphStyle is one style of paragraphs; its properties are in the order of the
// schema.
func paragraphStyle(id, name, based, next, paragraph, text string) string {
	s := `<w:style w:type="paragraph" w:styleId="` + id + `"><w:name w:val="` + name + `"/>`
	if based != "" {
		s += `<w:basedOn w:val="` + based + `"/>`
	}
	if next != "" {
		s += `<w:next w:val="` + next + `"/>`
	}
	return s + `<w:qFormat/><w:pPr>` + paragraph + `</w:pPr><w:rPr>` + text + `</w:rPr></w:style>`
}

func heading(level, size string, before string) string {
	outline := itoa(int(level[0]-'0') - 1)
	return paragraphStyle("Heading"+level, "heading "+level, "Normal", "BodyText",
		`<w:keepNext/><w:keepLines/><w:numPr><w:ilvl w:val="`+outline+`"/><w:numId w:val="1"/></w:numPr><w:spacing w:before="`+before+`" w:after="80"/><w:outlineLvl w:val="`+outline+`"/>`,
		`<w:b/><w:sz w:val="`+size+`"/>`)
}

const (
	cautionBorder = `<w:pBdr><w:left w:val="single" w:sz="24" w:space="8" w:color="8A3B00"/></w:pBdr><w:shd w:val="clear" w:color="auto" w:fill="F6F4EC"/>`
	bannerBorder  = `<w:pBdr><w:top w:val="single" w:sz="12" w:space="4" w:color="8A3B00"/><w:left w:val="single" w:sz="12" w:space="4" w:color="8A3B00"/><w:bottom w:val="single" w:sz="12" w:space="4" w:color="8A3B00"/><w:right w:val="single" w:sz="12" w:space="4" w:color="8A3B00"/></w:pBdr>`
	serifFonts    = `<w:rFonts w:ascii="Liberation Serif" w:hAnsi="Liberation Serif" w:eastAsia="Liberation Serif" w:cs="Times New Roman"/>`
)

// docxStyles are the styles: an author changes the look of all headings or
// captions at once.
var docxStyles = xmlHead + `<w:styles xmlns:w="` + nsW + `"><w:docDefaults><w:rPrDefault><w:rPr>` + serifFonts + `<w:sz w:val="22"/><w:szCs w:val="22"/><w:lang w:val="en-GB"/></w:rPr></w:rPrDefault>` +
	`<w:pPrDefault><w:pPr><w:spacing w:after="120" w:line="288" w:lineRule="auto"/></w:pPr></w:pPrDefault></w:docDefaults>` +
	`<w:style w:type="paragraph" w:default="1" w:styleId="Normal"><w:name w:val="Normal"/><w:qFormat/></w:style>` +
	`<w:style w:type="table" w:default="1" w:styleId="TableNormal"><w:name w:val="Normal Table"/><w:tblPr><w:tblInd w:w="0" w:type="dxa"/><w:tblCellMar><w:left w:w="70" w:type="dxa"/><w:right w:w="70" w:type="dxa"/></w:tblCellMar></w:tblPr></w:style>` +
	paragraphStyle("BodyText", "Body Text", "Normal", "", `<w:widowControl/>`, ``) +
	paragraphStyle("Title", "Title", "Normal", "Subtitle", `<w:keepNext/><w:spacing w:before="120" w:after="80" w:line="264" w:lineRule="auto"/>`, `<w:b/><w:sz w:val="38"/>`) +
	paragraphStyle("Subtitle", "Subtitle", "Normal", "BodyText", ``, `<w:color w:val="333333"/><w:sz w:val="24"/>`) +
	paragraphStyle("Byline", "Author", "Normal", "BodyText", `<w:spacing w:after="240"/>`, ``) +
	heading("1", "30", "360") + heading("2", "25", "260") + heading("3", "22", "200") +
	paragraphStyle("ListBullet", "List Bullet", "Normal", "", `<w:numPr><w:numId w:val="2"/></w:numPr><w:spacing w:after="60"/>`, ``) +
	paragraphStyle("Caption", "caption", "Normal", "BodyText", `<w:keepLines/><w:spacing w:before="120" w:after="100" w:line="264" w:lineRule="auto"/>`, `<w:sz w:val="19"/>`) +
	paragraphStyle("Figure", "Figure", "Normal", "Caption", `<w:keepNext/><w:spacing w:before="160" w:after="60" w:line="240" w:lineRule="auto"/><w:jc w:val="center"/>`, ``) +
	paragraphStyle("Note", "Note", "Normal", "BodyText", `<w:spacing w:before="60" w:after="160" w:line="252" w:lineRule="auto"/>`, `<w:sz w:val="18"/>`) +
	paragraphStyle("TableText", "Table Text", "Normal", "", `<w:spacing w:before="20" w:after="20" w:line="240" w:lineRule="auto"/>`, `<w:sz w:val="17"/>`) +
	paragraphStyle("Caution", "Caution", "Normal", "", cautionBorder+`<w:spacing w:before="120" w:after="60"/><w:ind w:left="284"/>`, ``) +
	paragraphStyle("CautionItem", "Caution Item", "Caution", "", `<w:numPr><w:numId w:val="2"/></w:numPr>`+cautionBorder+`<w:spacing w:after="60"/><w:ind w:left="738" w:hanging="284"/>`, ``) +
	paragraphStyle("Banner", "Banner", "Normal", "Title", bannerBorder+`<w:jc w:val="center"/>`, `<w:b/><w:color w:val="8A3B00"/>`) +
	paragraphStyle("Header", "header", "Normal", "", `<w:spacing w:after="0"/>`, `<w:color w:val="333333"/><w:sz w:val="16"/>`) +
	paragraphStyle("Footer", "footer", "Normal", "", `<w:spacing w:after="0"/><w:jc w:val="center"/>`, `<w:color w:val="333333"/><w:sz w:val="16"/>`) +
	`<w:style w:type="character" w:styleId="Code"><w:name w:val="Code"/><w:qFormat/><w:rPr><w:rFonts w:ascii="Liberation Mono" w:hAnsi="Liberation Mono" w:cs="Courier New"/><w:sz w:val="18"/></w:rPr></w:style>` +
	`<w:style w:type="character" w:styleId="NotRecorded"><w:name w:val="Not Recorded"/><w:qFormat/><w:rPr><w:smallCaps/><w:u w:val="dotted"/></w:rPr></w:style>` +
	`<w:style w:type="table" w:styleId="DossierTable"><w:name w:val="Dossier Table"/><w:basedOn w:val="TableNormal"/><w:tblPr><w:tblBorders><w:top w:val="single" w:sz="10" w:space="0" w:color="000000"/><w:bottom w:val="single" w:sz="10" w:space="0" w:color="000000"/><w:insideH w:val="single" w:sz="2" w:space="0" w:color="CCCCC6"/></w:tblBorders></w:tblPr>` +
	`<w:tblStylePr w:type="firstRow"><w:tcPr><w:tcBorders><w:bottom w:val="single" w:sz="6" w:space="0" w:color="000000"/></w:tcBorders><w:vAlign w:val="bottom"/></w:tcPr></w:tblStylePr></w:style></w:styles>`
