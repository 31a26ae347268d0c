package printing

import (
	"strconv"

	"brinefield/core/dossier"
)

func itoa(n int) string { return strconv.Itoa(n) }
func hex(r rune) string { return strconv.FormatInt(int64(r), 16) }

// pageStyle is the look of the page on a screen. Contrast of text is at least
// 7 : 1 in the light scheme and in the dark one (WCAG 2.2, 1.4.6).
const pageStyle = `
:root{color-scheme:light dark;--paper:#fdfdfb;--ink:#1b1b1b;--quiet:#4a4a48;--rule:#8b8b86;--hair:#d6d6d0;--link:#17487a;--set:#f4f1e6;--mark:#8a3b00}
@media (prefers-color-scheme:dark){:root{--paper:#16191b;--ink:#e9e7e1;--quiet:#c3c1ba;--rule:#8b8f92;--hair:#3c4245;--link:#a9cdf2;--set:#24292b;--mark:#ffb878}}
*{box-sizing:border-box}
html{font:17px/1.5 "Dossier Serif","Liberation Serif","Times New Roman",Times,serif;background:var(--paper);color:var(--ink);-webkit-text-size-adjust:100%;hyphens:auto;scroll-behavior:auto}
body{margin:0 auto;padding:1.5rem 1.25rem 5rem;max-width:62rem;overflow-wrap:anywhere;counter-reset:none}
body>header,body>nav,main>*{max-width:34rem;margin-inline:auto}
main>figure,main>.table{max-width:100%}
.skip{position:absolute;left:-99em}
.skip:focus{left:1rem;top:1rem;background:var(--paper);padding:.5rem;z-index:2}
a{color:var(--link);text-decoration-thickness:.06em;text-underline-offset:.15em}
a:focus-visible,.table:focus-visible{outline:3px solid var(--link);outline-offset:2px}
h1{font-size:1.9rem;line-height:1.2;margin:2rem 0 .5rem;text-wrap:balance;hyphens:none}
h2,h3,h4{line-height:1.25;hyphens:none;text-wrap:balance}
h2{font-size:1.35rem;margin:2.6rem auto .6rem;border-top:1px solid var(--rule);padding-top:.7rem}
main>h2:first-child{border-top:0;margin-top:0;padding-top:1rem}
h3{font-size:1.1rem;margin:1.9rem auto .4rem}
h4{font-size:1rem;margin:1.4rem auto .3rem;font-style:normal}
.number{margin-inline-end:.45em}
.subtitle{font-size:1.1rem;color:var(--quiet);margin:.2rem 0;text-wrap:balance}
.byline{margin:.6rem 0 1.6rem}
p{margin:.7rem auto}
ul{margin:.6rem auto;padding-inline-start:1.4rem}
li{margin:.25rem 0}
.invented{max-width:34rem;margin:.5rem auto;padding:.45rem .8rem;border:2px solid var(--mark);color:var(--mark);text-align:center}
nav{border-bottom:1px solid var(--rule);padding-bottom:1rem;font-size:.94rem}
nav h2{font-size:1.05rem;margin:1.2rem 0 .3rem}
nav ul{list-style:none;padding:0;margin:0}
nav ul ul{padding-inline-start:1.5rem}
nav a{text-decoration:none;display:inline-block;padding:.12rem 0}
nav a:hover{text-decoration:underline}
code{font-family:"Dossier Mono","Liberation Mono",monospace;font-size:.82em;overflow-wrap:anywhere}
sup{line-height:0}
.missing{font-variant-caps:small-caps;letter-spacing:.03em;text-decoration:underline dotted;text-underline-offset:.2em}
.note{font-size:.85rem;line-height:1.4;color:var(--quiet)}
.caution{border:1px solid var(--mark);border-inline-start-width:.4rem;background:var(--set);padding:.2rem 1rem;margin-block:1.2rem}
.table{overflow-x:auto;margin-block:1.5rem;padding-bottom:.2rem}
table{border-collapse:collapse;font-size:.85rem;line-height:1.3;margin-inline:auto;border-block:1.5px solid var(--ink);hyphens:manual;overflow-wrap:normal;font-variant-numeric:lining-nums tabular-nums}
caption{text-align:start;padding:0 0 .5rem;font-size:.92rem;line-height:1.4}
th,td{text-align:start;vertical-align:top;padding:.28rem .6rem;min-width:2.5rem;max-width:22rem;font-weight:400;overflow-wrap:break-word}
th:first-child,td:first-child{padding-inline-start:.2rem}
thead th{vertical-align:bottom;border-bottom:1px solid var(--ink);font-weight:700}
tbody tr+tr>*{border-top:1px solid var(--hair)}
.whole{white-space:nowrap}
.numbers{text-align:end;white-space:nowrap}
thead .numbers{white-space:normal}
.table .note{margin:.4rem auto 0;max-width:34rem}
figure{margin:1.8rem auto;text-align:center}
figure img{max-width:100%;height:auto;background:#fff}
@media screen{figure img{padding:.5rem}}
figcaption{max-width:34rem;margin:.6rem auto 0;text-align:start;font-size:.9rem;line-height:1.4}
@media (max-width:40rem){html{font-size:16px}th,td{padding-inline:.4rem}}
`

// paperStyle is the look on paper: always light, for A4 and letter alike. Margins
// hold the title, the page and that data are invented, on every page.
const paperStyle = `
@media print{
:root{color-scheme:light;--paper:#fff;--ink:#000;--quiet:#333;--rule:#777;--hair:#ccc;--link:#17487a;--set:#f6f4ec;--mark:#8a3b00}
html{font-size:10.8pt;line-height:1.42;background:#fff}
body{max-width:none;padding:0}
body>header,body>nav,main>*,figcaption,.invented{max-width:33rem}
main>figure,main>.table{max-width:none}
.skip{display:none}
nav{font-size:9.6pt;line-height:1.3}
nav li{margin:0}
nav a{padding:.05rem 0}
a{color:inherit;text-decoration:none}
main a[href^="https"]{color:var(--link)}
p,li{orphans:3;widows:3}
h1{margin-top:0;font-size:20pt}
h2,h3,h4{break-after:avoid;break-inside:avoid}
h2{margin-top:1.6rem}
.caution,figure{break-inside:avoid}
figure{margin-block:1rem}
figure img{max-height:14.5cm;padding:0;background:none}
.table{overflow:visible;margin-block:1rem}
table{font-size:8.4pt;width:auto;max-width:100%}
thead{display:table-header-group}
tr{break-inside:avoid}
caption{break-after:avoid}
th,td{padding:.16rem .42rem;min-width:0}
.small table{font-size:7.2pt}
.small th,.small td,.turned th,.turned td{padding-inline:.28rem}
.turned{page:turned}
.turned table{font-size:7pt}
.invented{border-width:1.5pt}
.missing{letter-spacing:0}
.table .note{max-width:33rem}
}
`

// printStyle is paperStyle with the words in the margins of each page.
func printStyle(d dossier.Document) string {
	title := short(titleOf(d), 70)
	small := `font:8pt "Dossier Serif","Liberation Serif","Times New Roman",serif;color:#333`
	margins := `margin:21mm 19mm 20mm;@top-left{content:` + cssText(title) + ";" + small + `;vertical-align:bottom;padding-bottom:4mm;width:66%;text-align:left}` +
		`@bottom-center{content:counter(page) " / " counter(pages);` + small + `;vertical-align:top;padding-top:4mm}`
	if d.Invented {
		margins += `@top-right{content:` + cssText(inventedShort) + `;font:700 8pt "Dossier Serif","Liberation Serif","Times New Roman",serif;color:#8a3b00;vertical-align:bottom;padding-bottom:4mm;width:34%;text-align:right}`
	}
	return "@page{" + margins + "}\n@page turned{size:landscape}\n" + paperStyle
}
