package dossier

import "brinefield/core/study"

// Lacks are what a journal or an archive will ask for and the study does not
// have, most wanted first, each with the page and the field where it is written.
func Lacks(in Input) []string {
	d := digestOf(in)
	return append(lacksOfStudy(d), lacksOfResults(d)...)
}

// LacksBeforeResults is [Lacks] of a study whose results are not worked out: it
// says nothing of estimates.
func LacksBeforeResults(in Input) []string { return lacksOfStudy(digestOf(in)) }

// lacking is one thing that may be missing.
type lacking struct {
	missing bool
	what    string
}

func lacksOfStudy(d *digest) []string {
	f, c := &d.in.Facts, &d.in.Spec
	schedule := f.Schedule
	if schedule == nil {
		schedule = &ScheduleFacts{}
	}
	sexed, sized, experience := d.recordedOfAnimals()
	place := d.s.Site.LatitudeDeg.Known && d.s.Site.LongitudeDeg.Known || f.Place.Latitude != nil && f.Place.Longitude != nil
	return missingOf([]lacking{
		{len(authorsOf(d.in.People)) == 0, "Authors: an archive takes no package without a creator (page Dossier, part Package: Authors)"},
		{tidy(c.Licence) == "", "Licence: without one nobody may use the data again (page Dossier, part Package: Licence)"},
		{tidy(c.Ethics) == "", "Ethical statement: journals that print work with animals ask for one (page Dossier, part Package: Ethical statement)"},
		{len(f.Permits) == 0, "Permits and approvals, with authority, number and dates (page Question, Permits and approvals)"},
		{tidy(c.Title) == "" && tidy(d.s.Title) == "", "Title (page Dossier, part Package: Title)"},
		{tidy(c.Abstract) == "", "Abstract (page Dossier, part Package: Abstract)"},
		{tidy(c.SampleSize) == "", "How the numbers of trials and animals were decided, ARRIVE item 2b (page Dossier, part Package: How the sample size was decided)"},
		{tidy(d.s.Question) == "", "Question (page Question, What is asked: Question)"},
		{tidy(f.Protocol.Method) == "", "How a trial goes, ARRIVE item 9a (page Question, Who and how: Method)"},
		{tidy(f.Protocol.Criteria) == "", "Which animals, passes and trials count, ARRIVE item 3a (page Question, What is planned: Which animals, passes and trials count)"},
		{tidy(f.Protocol.AnalysisPlan) == "", "Analysis plan with the main outcome, ARRIVE item 6b (page Question, What is planned: Analysis plan)"},
		{tidy(schedule.Rule) == "" && d.s.Schedule.Kind == study.ScheduleUnstated, "The rule by which active pairs were drawn, ARRIVE item 4a (page Schedule, part Plan)"},
		{!schedule.Sealed, "A sealed schedule, so that nobody who scored could know the active pair, ARRIVE item 5 (page Schedule, part Seal, before the next season: it cannot be made up for)"},
		{len(f.Preregistration) == 0, "A registered plan (page Schedule, part Preregistration; once trials have begun it is marked late)"},
		{d.driven > 0 && d.measured == 0, "Currents measured before and after trials (page Deck, part Log, or page Tables, table Trials: Current before, Current after)"},
		{d.passes > 0 && d.identified == 0, "Which animal made which pass: without it no interval can allow for animals (page Tables, table Passes: Individual)"},
		{d.passes > 0 && d.scorers == 0, "Who scored each pass (page Tables, table Passes: Scorer)"},
		{d.passes > 0 && !d.secondScored(), "Passes scored by a second person: a reviewer will ask how far two agree (page Tables, table Passes: Second scorer)"},
		{d.passes > 0 && !sexed, "Sex of the animals, ARRIVE item 8a (page Tables, table Individuals)"},
		{d.passes > 0 && !sized, "Length or disc width of the animals, ARRIVE item 8a (page Tables, table Individuals)"},
		{d.passes > 0 && !experience, "What animals had met before, ARRIVE item 8b (page Tables, table Individuals: Experience)"},
		{tidy(c.Housing) == "", "Whether and how animals were kept, ARRIVE item 8b: write so if they were free (page Dossier, part Package: How animals were kept)"},
		{!place, "Coordinates of the site, exact or coarsened (page Question, Where: Latitude, Longitude)"},
		{tidy(f.Protocol.Hypotheses) == "", "Hypotheses (page Question, What is planned: Hypotheses)"},
		{tidy(c.Funding) == "", "Funding: say so if there was none (page Dossier, part Package: Funding)"},
		{tidy(c.Interests) == "", "Statement of interests: say so if there are none (page Dossier, part Package: Competing interests)"},
		{len(f.Blinding.Guesses) == 0 && schedule.Sealed, "Guesses of those who scored, as a test of the blinding (page Schedule, part Blinding: Guesses, before the opening)"},
		{!d.s.Analysis.ReactionTimeS.Known, "Reaction time: 0 s is taken where none is stated (page Tables, table Analysis: Reaction time)"},
		{!d.statesUncertainty(), "How well bottom, heights, positions and currents are known (page Tables, table Uncertainty)"},
		{len(c.Keywords) == 0, "Keywords (page Dossier, part Package: Keywords)"},
		{tidy(c.DOI) == "", "DOI: archives reserve one before the package is sent (page Dossier, part Package: DOI)"},
	})
}

func lacksOfResults(d *digest) []string {
	return missingOf([]lacking{
		{d.sealed > 0, "Opened trials: " + count(d.sealed) + " of " + plural(d.trials, "trial is", "trials are") + " still sealed and stand in no estimate (page Schedule, part Seal)"},
		{d.sealed < d.trials && d.passes > 0 && !d.hasInterval(), "A detection threshold with an interval: it needs at least five recognised animals that turned at fields of different size (page Findings says why there is none)"},
	})
}

func missingOf(all []lacking) []string {
	out := []string{}
	for _, l := range all {
		if l.missing {
			out = append(out, l.what+".")
		}
	}
	return out
}

func (d *digest) secondScored() bool {
	for i := range d.s.Passes {
		if tidy(d.s.Passes[i].SecondScorer) != "" {
			return true
		}
	}
	return false
}

func (d *digest) statesUncertainty() bool {
	u := &d.s.Uncertainty
	return u.BottomSPerMSD.Known || u.PositionSDM.Known || u.HeightSDM.Known || u.CurrentSDPercent.Known
}

// authorsOf are those who are authors, in their order.
func authorsOf(people []Person) []Person {
	var out []Person
	for _, p := range people {
		if (p.Role == "" || p.Role == "author") && tidy(p.Given+p.Family) != "" {
			out = append(out, p)
		}
	}
	return out
}

func nameOf(p Person) string { return tidy(p.Given + " " + p.Family) }
