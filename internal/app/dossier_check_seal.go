package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"brinefield/core/dossier"
	"brinefield/core/schedule"
	"brinefield/core/study"
)

// scheduleFile is the sealed schedule beside a season, as far as it was opened.
const scheduleFile = dossier.StudyFolder + "schedule.json"

// seal checks the schedule against its seal, and the season against the schedule:
// that the pair which a trial is said to have driven is the one that was drawn.
func (c *packageCheck) seal(context.Context) error {
	if !c.p.Has(scheduleFile) {
		c.note("no sealed schedule is in the package: that the active pairs were drawn beforehand cannot be checked")
		return nil
	}
	data, err := c.p.Read(scheduleFile)
	if err != nil {
		return err
	}
	doc, err := ReadSchedule(scheduleFile, data)
	if err != nil {
		for line := range strings.SplitSeq(err.Error(), "\n") {
			c.differs("%s", line)
		}
		return nil
	}
	for _, what := range CheckSchedule(doc) {
		c.differs("%s: %s", scheduleFile, what)
	}
	if c.found == 0 && c.study != nil {
		c.sealAgainstSeason(doc)
	}
	return nil
}

func (c *packageCheck) sealAgainstSeason(doc *ScheduleDocument) {
	at := make(map[string]*ScheduledTrial, doc.count())
	opened := 0
	for i := range doc.count() {
		t := doc.at(i)
		at[t.Trial] = t
		if t.Kind != "" {
			opened++
		}
	}
	run, outside := 0, 0
	for i := range c.study.Trials {
		trial := &c.study.Trials[i]
		drawn := at[trial.ID]
		if drawn == nil {
			outside++
			continue
		}
		run++
		where := fmt.Sprintf("%strials.csv:%d", dossier.SeasonFolder, trial.Row)
		switch {
		case drawn.Kind == "" && !trial.Sealed:
			c.differs("%s:active_pair: the season says %s in trial %s, and the schedule of this trial is still sealed", where, sayActive(c.study, trial), trial.ID)
		case drawn.Kind != "" && trial.Sealed:
			c.differs("%s:active_pair: the season says sealed in trial %s, and the schedule was opened: %s", where, trial.ID, drawn.ActivePair)
		case drawn.Kind != "":
			c.drawnAsRun(where, drawn, trial)
		}
	}
	c.note("the schedule is the sealed one: %s, %d opened, %d run in the season, seal %s", counted(doc.count(), "trial", "trials"), opened, run, doc.Seal)
	if outside > 0 {
		c.note("%s of the season not of the schedule: nothing was drawn for them", counted(outside, "trial is", "trials are"))
	}
}

// sayActive is what a season says of the active pairs of a trial.
func sayActive(s *study.Study, t *study.Trial) string {
	if t.Silent() {
		return "none"
	}
	var labels []string
	for _, i := range t.ActivePairs {
		labels = append(labels, s.Pairs[i].Label)
	}
	return strings.Join(labels, "+")
}

// currentsDiffer is by how much, as a share, a current of the season may differ
// from the one drawn before it is told: what was driven is what the rig delivers, a
// few percent off what is written at the switch.
const currentsDiffer = 0.2

func (c *packageCheck) drawnAsRun(where string, drawn *ScheduledTrial, trial *study.Trial) {
	if got := sayActive(c.study, trial); got != drawn.ActivePair {
		c.differs("%s:active_pair: the season says %s in trial %s, and %s was drawn and sealed", where, got, trial.ID, drawn.ActivePair)
		return
	}
	current, known := trial.DrivenCurrentA()
	if drawn.Kind != schedule.Active || !known {
		return
	}
	got, want := current*1e6, *drawn.CurrentUA
	switch {
	case math.Signbit(got) != math.Signbit(want):
		c.differs("%s:current_uA: the season says %.6g µA in trial %s, and the opposite polarity was drawn: %.6g µA", where, got, trial.ID, want)
	case math.Abs(got-want) > currentsDiffer*math.Abs(want):
		c.differs("%s:current_uA: the season says %.6g µA in trial %s, and %.6g µA was drawn and sealed", where, got, trial.ID, want)
	}
}

// results checks that the findings are such a document, and of this season.
func (c *packageCheck) results(context.Context) error {
	if c.p.Has(dossier.FactsFile) {
		var facts dossier.Facts
		if err := c.strict(dossier.FactsFile, &facts); err != nil {
			return err
		}
		if facts.Format > Format {
			c.differs("%s: format %d, and this program reads %d", dossier.FactsFile, facts.Format, Format)
		}
	}
	if !c.p.Has(dossier.FindingsFile) {
		return nil // layout says so
	}
	var f Findings
	if err := c.strict(dossier.FindingsFile, &f); err != nil || f.Format == 0 {
		return err
	}
	if f.Format != Format {
		c.differs("%s: format %d, and this program reads %d", dossier.FindingsFile, f.Format, Format)
	}
	for _, name := range slices.Sorted(maps.Keys(f.InputsSHA256)) {
		switch hash, there := c.p.hashes[dossier.SeasonFolder+name]; {
		case !there:
			c.differs("%s was made of %s, which %s does not hold", dossier.FindingsFile, name, dossier.SeasonFolder)
		case hash != f.InputsSHA256[name]:
			c.differs("%s was made of another %s: of one with the SHA-256 %s", dossier.FindingsFile, name, f.InputsSHA256[name])
		}
	}
	if len(f.InputsSHA256) == 0 {
		c.differs("%s does not say of which season it was made", dossier.FindingsFile)
	}
	if c.study != nil {
		c.samePasses(&f)
	}
	return nil
}

func (c *packageCheck) samePasses(f *Findings) {
	held := make(map[string]bool, len(c.study.Passes))
	for i := range c.study.Passes {
		held[c.study.Passes[i].ID] = true
	}
	for i := range f.Passes {
		if id := f.Passes[i].Pass; !held[id] {
			c.differs("%s: passes[%d]: the season has no pass %q, or it is there twice", dossier.FindingsFile, i, id)
		}
		delete(held, f.Passes[i].Pass)
	}
	for _, id := range slices.Sorted(maps.Keys(held)) {
		c.differs("%s: the pass %s of the season is missing", dossier.FindingsFile, id)
	}
}

// strict reads a document whose keys are all known; a difference says what is not.
// After a difference the document may be half filled.
func (c *packageCheck) strict(name string, into any) error {
	r, err := c.p.Open(name)
	if err != nil {
		return err
	}
	defer r.Close()
	d := json.NewDecoder(r)
	d.DisallowUnknownFields()
	err = d.Decode(into)
	if err == nil {
		if _, err = d.Token(); errors.Is(err, io.EOF) {
			return nil
		}
		err = errors.New("something stands behind its end")
	}
	var mismatch *json.UnmarshalTypeError
	if errors.As(err, &mismatch) {
		err = fmt.Errorf("%s is a %s, and something else is expected", mismatch.Field, mismatch.Value)
	}
	c.differs("%s is not as it should be: %s", name, strings.TrimPrefix(err.Error(), "json: "))
	return nil
}
