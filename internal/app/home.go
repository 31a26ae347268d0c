package app

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"time"
)

// Home shows the studies on this machine and the season folders that are only
// shown. A study that cannot be opened has a card that says why.
func (s *Studies) Home(ctx context.Context) (HomeView, error) {
	v := HomeView{Program: s.options.Program, Shelf: s.options.ShelfName, Writes: s.options.Shelf != nil, Studies: []StudyCard{}}
	for _, name := range slices.Sorted(maps.Keys(s.options.Seasons)) {
		v.Studies = append(v.Studies, seasonCard(name, s.options.Seasons[name]))
	}
	if s.options.Shelf == nil {
		return v, nil
	}
	names, err := s.options.Shelf.List()
	if err != nil {
		return v, err
	}
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return v, err
		}
		v.Studies = append(v.Studies, s.card(ctx, name))
	}
	return v, nil
}

func (s *Studies) emptyCard(name string) StudyCard {
	return StudyCard{
		Study: name, Kind: "study", Title: name, Invented: s.options.Invented != nil && s.options.Invented(name), Notes: []string{}, Steps: []StepView{},
	}
}

// card is that of an open study, or of one opened for as long as it takes.
func (s *Studies) card(ctx context.Context, name string) StudyCard {
	one := s.turn(name)
	one.Lock()
	defer one.Unlock()
	c := s.emptyCard(name)
	open, err := s.opened(name)
	if err == nil && open != nil {
		err = open.fillCard(ctx, &c, true)
	} else if err == nil {
		return s.closedCard(ctx, c)
	}
	if err != nil {
		c.Problem = err.Error()
	}
	return c
}

func (s *Studies) closedCard(ctx context.Context, c StudyCard) StudyCard {
	now := s.options.Clock()
	if kept, ok := s.cards.get(c.Study, now); ok {
		return kept
	}
	folder, err := s.options.Shelf.Look(ctx, c.Study)
	if err == nil {
		err = newStudy(s.options, folder).fillCard(ctx, &c, false)
		if closing := folder.Close(); err == nil {
			err = closing
		}
	}
	if err != nil {
		c.Problem = err.Error()
	}
	if ctx.Err() == nil {
		s.cards.put(c.Study, c, now)
	}
	return c
}

// seasonCard is a season folder that is shown read-only.
func seasonCard(name string, o *OpenSeason) StudyCard {
	v := o.Season()
	c := StudyCard{
		Study: name, Kind: "season", Title: cmp.Or(v.Title, name), SiteName: v.SiteName, Invented: v.Invented, ReadOnly: true,
		Trials: len(v.Trials), Passes: v.PassCount, Animals: len(v.Individuals), Notes: []string{}, Steps: []StepView{},
	}
	for _, t := range v.Trials {
		c.Blind = c.Blind || t.Sealed
	}
	if len(v.Faults) > 0 {
		c.Problem = ErrFaults.Error()
	}
	return c
}

// fillCard fills the card of a study without reading the whole of a large one.
func (s *Study) fillCard(ctx context.Context, c *StudyCard, open bool) error {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	right, err := s.right(ctx)
	if err != nil {
		return err
	}
	c.ReadOnly, c.Notes = s.folder.ReadOnly, append(c.Notes, s.folder.Notes...)
	if head.ClockBehind > time.Minute {
		c.Notes = append(c.Notes, "the clock of this machine is behind the last entry by "+head.ClockBehind.Round(time.Minute).String()+": set it")
	}
	if note := s.exportNote(); note != "" {
		c.Notes = append(c.Notes, note)
	}
	o, err := s.overview(ctx, head, right)
	if err != nil {
		return err
	}
	c.Trials, c.Passes, c.Animals = o.trials, o.passes, o.animals
	if o.partly {
		c.Notes = append(c.Notes, "this study is large: until its tables are looked at, only the animals of its table of individuals are counted")
	}
	c.Title, c.SiteName = cmp.Or(o.title, c.Study), o.siteName
	c.Blind = !right.Granted() && (o.assigned || o.sealed)
	if c.Changed = stampText(head.LastWall, o.zone); s.folder.ExportedAt != nil {
		at, err := s.folder.ExportedAt()
		if err != nil {
			return err
		}
		c.Exported = stampText(at, o.zone)
	}
	c.Steps, err = s.steps(ctx, o, right, open)
	return err
}
