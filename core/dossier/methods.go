package dossier

// Methods are the text of methods and results alone, for a manuscript.
func Methods(in Input, figures []Figure) Document {
	w := &writer{page: newPage(figures), d: digestOf(in)}
	w.banners()
	w.methods()
	w.results()
	w.rest(figures)
	w.referenceList()
	return w.document("Methods and results")
}

// writer writes a document from the counts of an input.
type writer struct {
	*page
	d     *digest
	whole bool // the report; else methods and results alone
}

// methods are all sections of methods.
func (w *writer) methods() {
	w.section("methods")
	if w.d.in.Facts.Journal == nil {
		w.note("This text was made of a season folder alone. What a study keeps beside it (permits, the sealed schedule, the log of the work on site) could not be read and is called {} here.", missing)
	}
	w.design()
	w.site()
	w.water()
	w.arrangement()
	w.stimulus()
	w.background()
	w.schedule()
	w.blinding()
	w.preregistration()
	w.procedure()
	w.animals()
	w.positions()
	w.scoring()
	w.exposures()
	w.statistics()
	w.software()
}

func (w *writer) design() {
	w.section("design")
	p, c := &w.d.in.Facts.Protocol, &w.d.in.Spec
	w.written("Question:", w.d.s.Question)
	w.written("Hypotheses:", p.Hypotheses)
	if len(w.d.s.Pairs) > 1 {
		var text passage
		if w.d.pairsAlike() {
			text.say("The pairs of electrodes were alike in separation, diameter and height.")
		}
		text.say("In a driven trial current flowed through the active pair; the other pairs, which carried none, were its controls.")
		if n := w.d.several; n > 0 {
			text.say("In {} more than one pair was driven.", plural(n, "trial", "trials"))
		}
		if w.d.silent > 0 {
			text.say("In silent trials no pair was driven.")
		}
		text.say("One observation is a pass: one animal coming by one pair once.")
		w.paragraph(text)
	}
	w.written("How the numbers of trials and animals were decided:", c.SampleSize)
	w.written("Rule for stopping:", p.StoppingRule)
	w.written("Which animals, passes and trials were to count:", p.Criteria)
	w.written("Analysis plan:", p.AnalysisPlan)
}

// pairsAlike reports whether nothing that is recorded tells a pair from another
// but its place and its direction.
func (d *digest) pairsAlike() bool {
	for i := range d.s.Pairs {
		a, b := &d.s.Pairs[0], &d.s.Pairs[i]
		if a.SeparationM != b.SeparationM || a.ElectrodeDiameterM != b.ElectrodeDiameterM || a.HeightM != b.HeightM {
			return false
		}
	}
	return true
}
