package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"strconv"

	"brinefield/core/footage"
	"brinefield/core/optics"
	"brinefield/core/study"
)

// The files that an export puts beside a season that was measured in footage: what
// another laboratory needs to measure again.
const (
	fixesFile   = "fixes.csv"
	footageFile = "footage.json"
)

// exportedFootage is footage.json: cameras, clips with their poses, and where the
// passes begin and turn in them.
type exportedFootage struct {
	Format  int              `json:"format"`
	Cameras []exportedCamera `json:"cameras"`
	Clips   []exportedClip   `json:"clips"`
	Passes  []exportedPass   `json:"passes"`
}

type exportedCamera struct {
	Camera string        `json:"camera"`
	Spec   optics.Camera `json:"spec"`
	Note   string        `json:"note,omitempty"`
}

type exportedClip struct {
	Clip     string            `json:"clip"`
	Chapters []chapterRecord   `json:"chapters"`
	Sync     []FootageEvent    `json:"sync"`
	Poses    []FootagePoseSpec `json:"poses"`
}

type exportedPass struct {
	Pass       string         `json:"pass"`
	Clip       string         `json:"clip"`
	StartFrame *int           `json:"start_frame"`
	OnsetFrame *int           `json:"onset_frame"`
	EndFrame   *int           `json:"end_frame"`
	Heights    FootageHeights `json:"heights"`
	HeightCm   *[2]float64    `json:"class_height_cm,omitempty"` // what the class meant
}

var fixesHeader = []string{
	"pass", "clip", "point", "frame", "clip_s", "t_s", "x_px", "y_px", "how", "by", "x_cm", "y_cm", "height_cm", "height_low_cm", "height_high_cm", "sd_cm",
	"cov_xx_cm2", "cov_xy_cm2", "cov_xz_cm2", "cov_yy_cm2", "cov_yz_cm2", "cov_zz_cm2", "why_no_place",
}

// footageCompanions are the files beside a season; none where nothing was measured
// and no camera stands.
func (s *Study) footageCompanions(ctx context.Context, a *Assembled) (Input, error) {
	files := Input{}
	doc := exportedFootage{Format: Format, Cameras: []exportedCamera{}, Clips: []exportedClip{}, Passes: []exportedPass{}}
	for _, st := range a.current.standing(study.KindCamera) {
		c, err := readCamera(st.Fields)
		if err != nil {
			return nil, err
		}
		doc.Cameras = append(doc.Cameras, exportedCamera{Camera: st.ID, Spec: c, Note: st.Fields["note"]})
	}
	for _, st := range a.current.standing(study.KindFootage) {
		parts, err := readClockAndPoses(st.Fields)
		if err != nil {
			return nil, err
		}
		chapters, err := chaptersOf(&st)
		if err != nil {
			return nil, err
		}
		one := exportedClip{Clip: st.ID, Chapters: chapters, Sync: parts.events, Poses: parts.poses}
		if one.Sync == nil {
			one.Sync = []FootageEvent{}
		}
		if one.Poses == nil {
			one.Poses = []FootagePoseSpec{}
		}
		doc.Clips = append(doc.Clips, one)
	}
	table, err := s.fixesTable(ctx, a, &doc)
	if err != nil {
		return nil, err
	}
	if table != nil {
		files[fixesFile] = table
	}
	if len(doc.Cameras)+len(doc.Clips)+len(doc.Passes) > 0 {
		text, err := json.MarshalIndent(doc, "", "  ")
		if err != nil {
			return nil, err
		}
		files[footageFile] = append(text, '\n')
	}
	return files, nil
}

// fixesTable is every fix with where it is, as cameras and poses stand; nil where
// there is none.
func (s *Study) fixesTable(ctx context.Context, a *Assembled, doc *exportedFootage) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	rows := 0
	for _, st := range a.current.standing(study.KindFixes) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m, err := s.standingMeasured(ctx, a, st.ID)
		if err != nil {
			return nil, err
		}
		one := exportedPass{Pass: m.pass, Clip: m.clip, StartFrame: m.start, OnsetFrame: m.onset, EndFrame: m.end, Heights: m.heights}
		if h, _ := heightsOf(a.current, m.heights); m.heights.How == footage.ByClass && m.heights.Class != "" {
			one.HeightCm = &[2]float64{h.LowM * 100, h.HighM * 100}
		}
		doc.Passes = append(doc.Passes, one)
		if len(m.fixes) == 0 {
			continue
		}
		if rows == 0 {
			if err := w.Write(fixesHeader); err != nil {
				return nil, err
			}
		}
		times, _ := s.clipTimes(a.current, m.clip) // without them what stands beside each fix serves
		l := m.locate(a.current, times, s.clipPoses(a.current, m.clip, nil))
		for _, v := range m.fixViews(&l) {
			rows++
			if err := w.Write(fixRow(m, &v)); err != nil {
				return nil, err
			}
		}
	}
	w.Flush()
	if rows == 0 {
		return nil, w.Error()
	}
	return b.Bytes(), w.Error()
}

func fixRow(m *measured, v *FootageLocated) []string {
	number := func(n *float64, decimals int) string {
		if n == nil {
			return ""
		}
		return roundText(*n, decimals)
	}
	row := []string{
		m.pass, m.clip, v.Point, strconv.Itoa(v.Frame), roundText(v.ClipS, 6), number(v.TS, 6), roundText(v.Pixel[0], 3), roundText(v.Pixel[1], 3), v.How, v.By,
		number(v.XCm, 3), number(v.YCm, 3), number(v.HeightCm, 3), number(v.LowCm, 3), number(v.HighCm, 3), number(v.SDCm, 4),
	}
	for _, at := range [][2]int{{0, 0}, {0, 1}, {0, 2}, {1, 1}, {1, 2}, {2, 2}} {
		cell := ""
		if v.CovCm2 != nil {
			cell = strconv.FormatFloat(v.CovCm2[at[0]][at[1]], 'g', 6, 64)
		}
		row = append(row, cell)
	}
	return append(row, v.Why)
}
