package app

import (
	"context"
	"maps"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// Question is the question, the place, the people, permits and cautions.
func (s *Study) Question(ctx context.Context) (QuestionView, error) {
	v := QuestionView{Study: s.folder.Name, ReadOnly: s.folder.ReadOnly, Permits: []PermitView{}, Cautions: []CautionGroup{}}
	current, err := s.current(ctx)
	if err != nil {
		return v, err
	}
	about, err := s.fields(ctx, current, recordName{kind: study.KindStudy})
	if err != nil {
		return v, err
	}
	v.Title, v.Question = about["title"], about["question"]
	if v.Site, err = s.fields(ctx, current, recordName{kind: study.KindSite}); err != nil {
		return v, err
	}
	if v.Protocol, err = s.fields(ctx, current, recordName{kind: study.KindProtocol}); err != nil {
		return v, err
	}
	v.Draft = analysisDraft(current)
	for _, state := range current.standing(study.KindPermit) {
		fields, err := s.fields(ctx, current, nameOf(state.Record))
		if err != nil {
			return v, err
		}
		v.Permits = append(v.Permits, PermitView{ID: state.ID, Fields: fields})
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return v, err
	}
	for _, group := range cautionList {
		g := CautionGroup{About: group.about, Cautions: []CautionView{}}
		for _, c := range group.cautions {
			shown, err := s.cautionView(ctx, current, c, zone)
			if err != nil {
				return v, err
			}
			g.Cautions = append(g.Cautions, shown)
		}
		v.Cautions = append(v.Cautions, g)
	}
	return v, nil
}

// fields are those of a record that stands, with names in the place of
// references; none where there is no record.
func (s *Study) fields(ctx context.Context, current *standingRecords, name recordName) (map[string]string, error) {
	r, err := s.clearState(ctx, current, name)
	if err != nil || r == nil || r.Fields == nil {
		return map[string]string{}, err
	}
	return maps.Clone(r.Fields), nil
}

// cautionView is a caution with its tick: who ticked it is whom the tick
// names, else who wrote the entry.
func (s *Study) cautionView(ctx context.Context, current *standingRecords, c caution, zone *time.Location) (CautionView, error) {
	v := CautionView{ID: c.id, Caution: c.text, Rests: c.rests}
	state := current.state(recordName{study.KindCaution, c.id})
	if state == nil {
		return v, nil
	}
	fields, err := s.fields(ctx, current, recordName{study.KindCaution, c.id})
	if err != nil {
		return v, err
	}
	v.Ticked, v.By, v.Note = fields["ticked"] == "yes", fields["by"], fields["note"]
	if !v.Ticked {
		return v, nil
	}
	history, err := s.folder.Journal.History(ctx, study.KindCaution, c.id)
	if err != nil {
		return v, err
	}
	var ticking *journal.Entry
	for i := range history {
		if history[i].Body.Fields["ticked"] == "yes" {
			ticking = &history[i]
		}
	}
	if ticking == nil {
		return v, nil
	}
	v.When = stampText(ticking.Wall, zone)
	if v.By == "" {
		v.By, err = s.people.name(ctx, ticking.Author)
	}
	return v, err
}
