package printing

import (
	"image/color"

	"brinefield/core/dossier"
)

// colours are the inks of the tones. In CIE lightness L* (0 black, 100 white;
// CIE 15, observer and light of sRGB) each tone is at least 15 darker than the one
// before it, so a grey copy keeps them labelGap. Hue is a help on top: Accent is as
// dark as Strong, and whoever uses it beside Strong changes dash or mark too.
var colours = map[dossier.Tone]color.NRGBA{
	dossier.Paper:  {255, 255, 255, 255},
	dossier.Faint:  {208, 212, 215, 255},
	dossier.Light:  {158, 170, 180, 255},
	dossier.Middle: {121, 121, 117, 255},
	dossier.Strong: {80, 78, 74, 255},
	dossier.Ink:    {22, 22, 24, 255},
	dossier.Accent: {0, 82, 140, 255},
}

// colourOf gives the ink of a tone; false = nothing is drawn. A tone that is not
// known is drawn as Ink, so that nothing is lost from sight.
func colourOf(t dossier.Tone) (color.NRGBA, bool) {
	if t == dossier.NoTone {
		return color.NRGBA{}, false
	}
	if c, ok := colours[t]; ok {
		return c, true
	}
	return colours[dossier.Ink], true
}

// Sizes of all figures, in points at the printed size.
const (
	titlePt   = 8.0
	labelPt   = 7.5 // of axes
	tickPt    = 7.0 // ticks, legends, words in the panel
	leastPt   = 6.0 // nothing is set smaller
	leading   = 1.2
	hairline  = 0.25 // thinnest line that any press holds
	axisLine  = 0.5
	usualLine = 0.8
	usualMark = 3.0
	majorTick = 2.6
	minorTick = 1.4
)

func widthOf(l dossier.Look) float64 {
	if !(l.WidthPt > 0) {
		return usualLine
	}
	return min(max(l.WidthPt, hairline), 12)
}

func sizeOf(l dossier.Look) float64 {
	if !(l.SizePt > 0) {
		return usualMark
	}
	return min(max(l.SizePt, 0.8), 24)
}

// dashOf gives lengths of strokes and gaps in points; nil = full.
func dashOf(l dossier.Look) []float64 {
	k := max(widthOf(l)/usualLine, 0.7)
	switch l.Dash {
	case 1:
		return []float64{3.4 * k, 1.8 * k}
	case 2:
		return []float64{0.9 * k, 1.5 * k}
	case 3:
		return []float64{4.2 * k, 1.4 * k, 0.9 * k, 1.4 * k}
	}
	return nil
}
