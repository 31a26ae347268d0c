package app

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"slices"

	"brinefield/core/dossier"
	"brinefield/core/footage"
	"brinefield/core/study"
)

// footageFacts are cameras, clips and how well poses fit. What fixes add comes of
// the files that go beside the season, in measuredFacts.
func (s *Study) footageFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	current := raw.data.current
	cameras, clips := current.standing(study.KindCamera), current.standing(study.KindFootage)
	if len(cameras)+len(clips)+len(current.standing(study.KindFixes)) == 0 {
		return nil
	}
	out := &dossier.FootageFacts{Cameras: []dossier.CameraFact{}, Clips: len(clips)}
	for _, st := range cameras {
		c, err := readCamera(st.Fields)
		if err != nil {
			continue // told on the page Footage
		}
		what := fmt.Sprintf("%d × %d pixels, focal length %.4g pixels", c.WidthPx, c.HeightPx, c.FxPx)
		if c.Port != nil {
			what += fmt.Sprintf(", behind a flat window (%.3g mm of air, %.3g mm of glass)", c.Port.AirGapM*1000, c.Port.GlassM*1000)
		}
		out.Cameras = append(out.Cameras, dossier.CameraFact{Name: st.ID, What: what, Note: st.Fields["note"]})
	}
	for _, st := range clips {
		if err := ctx.Err(); err != nil {
			return err
		}
		parts, err := readClockAndPoses(st.Fields)
		if err != nil {
			continue
		}
		if len(parts.events) > 0 {
			out.ClipsWithClock++
		}
		if len(parts.poses) > 0 {
			out.ClipsWithPose++
		}
		for i, p := range s.clipPoses(current, st.ID, nil) {
			if i >= len(parts.poses) {
				break
			}
			k := slices.IndexFunc(out.Cameras, func(c dossier.CameraFact) bool { return c.Name == parts.poses[i].Camera })
			if k < 0 {
				continue
			}
			c := &out.Cameras[k]
			c.Poses++
			if p.Posed != nil {
				if rms := finite(p.Posed.RMSPx); rms != nil && (c.LargestResidualPX == nil || *rms > *c.LargestResidualPX) {
					c.LargestResidualPX = rms
				}
			}
		}
	}
	f.Footage = out
	return nil
}

// measuredFacts fill in what the tables beside a season say of fixes.
func measuredFacts(f *dossier.FootageFacts, beside map[string][]byte) error {
	var doc exportedFootage
	if text := beside[footageFile]; len(text) > 0 {
		if err := json.Unmarshal(text, &doc); err != nil {
			return fmt.Errorf("%s: %w", footageFile, err)
		}
	}
	f.Passes, f.Heights = len(doc.Passes), map[string]int{}
	words := map[string]string{
		footage.ByClass: "as an eye tells it, in classes", footage.ByLimits: "between stated limits",
		footage.ByWidth: "by the width of the head", footage.ByLength: "by the length of the body",
	}
	for i := range doc.Passes {
		how := doc.Passes[i].Heights.How
		f.Heights[cmp.Or(words[how], how)]++
	}
	rows, err := csv.NewReader(bytes.NewReader(beside[fixesFile])).ReadAll()
	if err != nil || len(rows) == 0 {
		return err
	}
	how, by, sd := slices.Index(rows[0], "how"), slices.Index(rows[0], "by"), slices.Index(rows[0], "sd_cm")
	people := map[string]bool{}
	var sds []float64
	for _, row := range rows[1:] {
		switch row[how] {
		case "placed":
			f.Placed++
		case "carried":
			f.Carried++
		case "filled":
			f.Filled++
		}
		if row[by] != "" {
			people[row[by]] = true
		}
		if v := numberIn(row[sd]); v != nil {
			sds = append(sds, *v)
		}
	}
	f.People = len(people)
	if len(sds) > 0 {
		f.MedianSDCm, f.LargestSDCm = finite(median(sds)), finite(slices.Max(sds))
	}
	return nil
}

// deckFacts are what was logged on the boat; none where nothing was.
func (s *Study) deckFacts(ctx context.Context, raw *dossierRaw, f *dossier.Facts) error {
	current := raw.data.current
	out := &dossier.DeckFacts{}
	for _, st := range current.standing(study.KindAttachment) {
		if st.Fields[attachedKind] == "photo" {
			out.Photos++
		}
	}
	checks := current.standing(study.KindCheck)
	spec, _, err := deckSpec(current)
	if err != nil {
		spec.Checks = nil // its words stand for themselves
	}
	at := map[string]int{}
	for _, st := range checks {
		word := st.Fields["check"]
		i, there := at[word]
		if !there {
			label := word
			for _, c := range spec.Checks {
				if c.Word == word {
					label = c.Label
				}
			}
			i, at[word] = len(out.Checks), len(out.Checks)
			out.Checks = append(out.Checks, dossier.CheckFact{Check: label})
		}
		if st.Fields["state"] == "ok" {
			out.Checks[i].Done++
		} else {
			out.Checks[i].Other++
		}
	}
	for _, st := range current.standing(study.KindEvent) {
		r, err := s.people.clear(ctx, st.Record)
		if err != nil {
			return err
		}
		out.Events = append(out.Events, dossier.EventFact{What: r.Fields["what"], Trial: r.Fields["trial"], When: r.Fields["time"], Text: r.Fields["text"]})
	}
	if len(checks)+len(out.Events)+out.Photos == 0 {
		return nil
	}
	if f.Journal != nil {
		out.Devices = len(f.Journal.Devices)
	}
	f.Deck = out
	return nil
}
