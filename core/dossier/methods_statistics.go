package dossier

import "brinefield/core/study"

func (w *writer) exposures() {
	w.section("exposures")
	d, a := w.d, &w.d.s.Analysis
	if d.in.Study == nil {
		w.say("How the field met was worked out: {}.", missing)
		return
	}
	var text passage
	medium := "the water, its surface and the bottom"
	if d.s.Bottom.Kind == study.BottomInsulating {
		medium = "the water, its surface and a bottom that does not conduct"
	}
	switch walls, plates := d.s.Enclosure != nil, len(d.s.Plates) > 0; {
	case walls && plates:
		medium += ", with the walls of the tank and the plates in it"
	case walls:
		medium += ", with the walls of the tank"
	case plates:
		medium += ", with the plates in it"
	}
	text.say("The field was solved for steady currents in {}. The field met on a pass is the magnitude of the electric field of everything driven in its trial, at the head of the animal, in nV/cm. It was worked out at control pairs too.", medium)
	for i := range d.in.Maps {
		if m := &d.in.Maps[i]; clause(m.Method) != "" && m.Why == "" {
			text.say("{}", sentence(m.Method))
			break
		}
	}
	if d.sanded() {
		text.say("In trials with sand over the plate, the plate was taken to be buried as deep, in the sediment of the study.")
	}
	w.paragraph(text)
	w.passRule()
	w.intervalRule()
	w.smoothing()
	w.unknownHeights()
	if at := tidy(a.FieldAt); at != "" && at != "largest" {
		w.say("Where several points of the head were tracked, the field was taken at the point {}.", at)
	} else {
		w.say("Where several points of the head were tracked, the largest field over them was taken.")
	}
}

func (w *writer) passRule() {
	a := &w.d.s.Analysis
	if a.PassRadiusM <= 0 {
		w.say("Radius at which a pass begins: {}.", missing)
		return
	}
	w.say("A pass begins when the head crosses the circle of {} round a pair, and belongs to that pair; a turn before any crossing belongs to the pair ahead.", withUnitSet(a.PassRadiusM*100, "cm"))
}

func (w *writer) intervalRule() {
	a := &w.d.s.Analysis
	var text passage
	text.say("What a pass tells of the threshold is an interval. Its lower end is the largest field that the animal met before the turn can have begun, one frame and the reaction time earlier; its upper end is the largest field while it can have begun. Without a turn the threshold lies above the largest field met; a turn in a falling field was not caused by it, and says the same. Where a turn has no recorded beginning, its threshold lies anywhere up to the largest field met.")
	if a.ReactionTimeS.Known {
		text.say("Reaction time: {}", withUnitSet(a.ReactionTimeS.Value, "s"))
		if a.ReactionTimeSDS.Known {
			text = joinRuns(text, say(" with a standard deviation of {}", withUnitSet(a.ReactionTimeSDS.Value, "s"))...)
		}
		text = joinRuns(text, Run{Text: "."})
	} else {
		text.say("Reaction time: {}; 0{}s was taken.", missing, thin)
	}
	w.paragraph(text)
}

func (w *writer) smoothing() {
	a := &w.d.s.Analysis
	if w.d.tracks == 0 {
		w.say("No pass has a track. Fields were taken at the distances, angles and heights that were recorded at the turn, or where the animal came closest.")
		return
	}
	if a.FixSDM.Known && a.FixSDM.Value > 0 {
		w.say("Tracks of four fixes and more were smoothed by the cubic smoothing spline that is the expectation of the path, given an error of {} of each fix and a velocity that wanders as a random walk ({}; {}); its restlessness is the one that makes the fixes most likely. Between fixes the path is straight.", withUnitSet(a.FixSDM.Value*100, "cm"), w.cite("wahba"), w.cite("reinsch"))
		return
	}
	w.say("Tracks were not smoothed. Between fixes the path is straight, and the largest field was sought along it.")
}

func (w *writer) unknownHeights() {
	a := &w.d.s.Analysis
	if a.HeightLowM.Known && a.HeightHighM.Known {
		w.say("Where the height of the head was not known, it was taken to lie between {} and {}, at the same share of the range along the whole pass; the interval then covers all of these heights.", setValue(a.HeightLowM.Value*100), withUnitSet(a.HeightHighM.Value*100, "cm"))
	}
}

func (w *writer) statistics() {
	w.section("statistics")
	if !w.d.estimated() {
		w.say("Nothing was estimated.")
		return
	}
	f := &w.d.in.Findings
	w.say("All estimates are maximum likelihood over the passes that count: scored, not of a sealed trial, and not after the first turn or bite of their visit. Passes of one animal form one cluster; passes of animals that were not recognised form one cluster in each trial and species.")
	if len(f.Preference) > 0 {
		w.preferenceMethods()
	}
	if len(f.Thresholds) > 0 {
		w.thresholdMethods()
	}
	if len(f.Detection) > 0 {
		w.detectionMethods()
	}
	if len(f.Descriptive) > 0 {
		w.say("For comparison with what is usually published, the field at turns that have a recorded beginning, at the active pair and not in a falling field, is described by its median and quartiles (type 7 of {}). The same is given for the textbook form of the field, ρId·|cos{}θ|/(πr³), with ρ the resistivity of the water, I the current, d the separation, and r and θ the distance and the angle to the head. These numbers leave out every pass without a turn.", w.cite("hyndman"), thin)
	}
	w.sensitivityMethods()
}

func (w *writer) preferenceMethods() {
	draws, rounds := 0, w.d.in.Findings.Preference
	penalised := false
	for i := range rounds {
		draws = max(draws, rounds[i].RandomisationN)
		penalised = penalised || known(rounds[i].PenalisedLogOddsRatio)
	}
	var text passage
	text.say("Preference for the active pair is the odds ratio of a turn at active and at control pairs, from a logistic model in which each animal has its own readiness to turn, normal over animals on the logit scale; integrals over animals by adaptive Gauss–Hermite quadrature ({}). Its 95{}% interval is the estimate ±{}1.96 standard errors on the logarithmic scale.", w.cite("pinheiro"), thin, thin)
	if draws > 0 {
		text.say("The test is the randomisation test: the active pairs of all trials that were not silent were drawn again by the rule of the schedule, {} times; p is the share of draws with at least as many turns to active pairs, the schedule that was used counted among them ({}).", count(draws), w.cite("phipson"))
	}
	text.say("Fisher's exact test ({}) stands beside it and is naive: it counts passes as if each were another animal.", w.cite("fisher"))
	if penalised {
		text.say("Where turns at one kind of pair are all or none, the odds ratio has no finite estimate; a penalised one ({}; {}), without individuals, stands in its place.", w.cite("firth"), w.cite("heinze"))
	}
	w.paragraph(text)
}

func (w *writer) thresholdMethods() {
	w.say("Three simpler estimates use the passes at active pairs alone. The step curve takes no form of the distribution for granted ({}; worked out by the method of {}). The lognormal takes thresholds to be lognormal. The lognormal with individuals adds a normal difference between animals on the logarithmic scale. All three take a lapse for a high threshold and a spontaneous turn for an answer.", w.cite("turnbull"), w.cite("wang"))
}

func (w *writer) detectionMethods() {
	w.say("The main estimate is the detection model, over all passes of a species, those at control pairs and in silent trials too. Thresholds are lognormal with distribution function F. On a share of passes, lapses, no field is answered. Turns that no field caused come at a constant rate h for each second watched. The chance that fields up to x are not answered is S(x){}={}lapse{}+{}(1{}{}{}lapse)(1{}{}{}F(x)).", thin, thin, thin, thin, thin, minusSign, thin, thin, minusSign, thin)
	raised := func(power string) []Run {
		return []Run{{Text: "e"}, {Text: minusSign + power, Style: Superior}}
	}
	product := func(power, of string) []Run {
		return append(raised(power), Run{Text: thin + "·" + thin + "S(" + of + ")"})
	}
	w.say("A pass without a turn, watched for W, has the likelihood {}; a turn that began between t₀ and t₁ has {} {} {}; a turn without a recorded beginning has 1 {} {}. The median is that of the thresholds: lapses and spontaneous turns are taken out of it.",
		product("hW", "low"), product("ht₀", "low"), minusSign, product("ht₁", "max(low, high)"), minusSign, product("hW", "high"))
	w.say("The 95{}% interval of this median and of the lognormal is taken on the logarithm, from the spread of scores between clusters with a leave-one-cluster correction (CR3; {} for the linear model) and Student's t with one degree of freedom fewer than there are clusters. Below five recognised animals there is none. That of the lognormal with individuals is the estimate of the logarithm, plus and minus its standard error times the normal quantile (Wald).", thin, w.cite("bell"))
}

func (w *writer) sensitivityMethods() {
	var text passage
	if w.d.hasSensitivity() {
		text.say("How much the reaction time matters was looked at by working out all intervals and the detection model again with other reaction times.")
	}
	if n := len(w.d.in.Findings.Uncertainty); n > 0 {
		text.say("What the stated uncertainties of the inputs do was looked at by working out the medians again with each input off by one standard deviation.")
	} else {
		text.say("Uncertainties of the inputs were not carried through: {}.", w.uncertaintyReason())
	}
	w.paragraph(text)
}

func (w *writer) uncertaintyReason() []Run {
	if w.d.statesUncertainty() {
		return say("they are stated, and the estimates here do not hold them")
	}
	return joinRuns(say("the size of their errors is "), missing)
}

func (w *writer) software() {
	w.section("software")
	p := &w.d.in.Program
	var text passage
	text.say("Everything was worked out by Brinefield, version {}, commit {}, built for {}.", orMissing(p.Version), codeOrMissing(p.Commit), orMissing(p.OSArch))
	if seed := w.d.in.Findings.Seed; seed != nil {
		text.say("Seed of the random numbers: {}.", code(exactWhole(*seed)))
	}
	text.say("The same build gives the same numbers from the same data, to the last digit.")
	w.paragraph(text)
}

// sanded reports whether sand over a plate counts in the field of any trial.
func (d *digest) sanded() bool {
	if len(d.s.Plates) == 0 || d.s.Bottom.Kind != study.BottomSediment {
		return false
	}
	for i := range d.s.Trials {
		if d.s.Trials[i].SandOverPlateM.Or(0) > 0 {
			return true
		}
	}
	return false
}
