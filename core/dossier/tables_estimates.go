package dossier

func individualTable(in Input) Table {
	t := Table{
		Name: "individuals", Title: "What each recognised animal did",
		Columns: columnsOf("individual", "species", "passes_active", "turns_active", "passes_control", "turns_control", "passes_silent", "turns_silent",
			"lowest_turn_nV_per_cm", "highest_no_turn_nV_per_cm"),
	}
	for _, a := range in.Findings.Individuals {
		t.Rows = append(t.Rows, []Cell{
			textCell(a.ID), textCell(a.Species), countCell(a.PassesActive), countCell(a.TurnsActive), countCell(a.PassesControl), countCell(a.TurnsControl),
			countCell(a.PassesSilent), countCell(a.TurnsSilent), numberCell(a.LowestTurn), numberCell(a.HighestNoTurn),
		})
	}
	return t
}

func preferenceTable(in Input) Table {
	t := Table{
		Name: "preference", Title: "Turns at active and control pairs",
		Note: "Counted over the passes that are used in the estimates.",
		Columns: columnsOf("species", "passes_active", "turns_active", "bites_active", "passes_control", "turns_control", "bites_control",
			"log_odds_ratio", "log_odds_ratio_se", "intercept", "individual_sd", "mixed_not_estimable",
			"penalised_log_odds_ratio", "penalised_ci95_low", "penalised_ci95_high", "penalised_ci95_not_estimable",
			"exact_p", "randomisation_p", "redraws", "randomisation_not_estimable", "boundary", "warnings"),
	}
	for _, p := range in.Findings.Preference {
		redraws := Cell{}
		if p.RandomisationN > 0 {
			redraws = countCell(p.RandomisationN)
		}
		t.Rows = append(t.Rows, []Cell{
			textCell(p.Species), countCell(p.PassesActive), countCell(p.TurnsActive), countCell(p.BitesActive),
			countCell(p.PassesControl), countCell(p.TurnsControl), countCell(p.BitesControl),
			numberCell(p.LogOddsRatio), numberCell(p.SE), numberCell(p.Intercept), numberCell(p.IndividualSD), textCell(p.MixedWhy),
			numberCell(p.PenalisedLogOddsRatio), numberCell(p.PenalisedCI95.Low), numberCell(p.PenalisedCI95.High), textCell(p.PenalisedCI95.Why),
			numberCell(p.ExactP), numberCell(p.RandomisationP), redraws, textCell(p.RandomisationWhy), listCell(p.Boundary), listCell(p.Warnings),
		})
	}
	return t
}

// estimateNames are the columns that every median has, and estimateCells their cells.
var estimateNames = []string{
	"median_nV_per_cm", "ci95_low_nV_per_cm", "ci95_high_nV_per_cm", "ci95_not_estimable",
	"mu", "sigma", "log_likelihood", "not_estimable", "boundary", "warnings",
}

func estimateCells(e Estimate) []Cell {
	return []Cell{
		numberCell(e.Median), numberCell(e.CI95.Low), numberCell(e.CI95.High), textCell(e.CI95.Why),
		numberCell(e.Mu), numberCell(e.Sigma), numberCell(e.LogLikelihood), textCell(e.Why), listCell(e.Boundary), listCell(e.Warnings),
	}
}

func detectionTable(in Input) Table {
	t := Table{
		Name: "detection", Title: "Detection model",
		Note:    "All passes of a species, silent trials too; spontaneous turns and lapses are allowed for.",
		Columns: columnsOf(append([]string{"species", "passes", "individuals", "passes_unidentified", "lapse", "spontaneous_per_s"}, estimateNames...)...),
	}
	for _, d := range in.Findings.Detection {
		row := []Cell{
			textCell(d.Species), countCell(d.Passes), countCell(d.Individuals), countCell(d.PassesUnidentified),
			numberCell(d.Lapse), numberCell(d.SpontaneousPerS),
		}
		t.Rows = append(t.Rows, append(row, estimateCells(d.Estimate)...))
	}
	return t
}

func sensitivityTable(in Input) Table {
	t := Table{
		Name: "sensitivity", Title: "The detection median had the reaction time been another",
		Columns: columnsOf("species", "reaction_time_s", "median_nV_per_cm", "not_estimable"),
	}
	for _, d := range in.Findings.Detection {
		for _, s := range d.Sensitivity {
			t.Rows = append(t.Rows, []Cell{textCell(d.Species), numberCell(&s.ReactionTimeS), numberCell(s.Median), textCell(s.Why)})
		}
	}
	return t
}

func thresholdTable(in Input) Table {
	t := Table{
		Name: "thresholds", Title: "Simpler estimates of the threshold",
		Note:    "Passes at the active pair alone.",
		Columns: columnsOf(append([]string{"species", "model", "passes", "individuals", "passes_unidentified", "sigma_individual"}, estimateNames...)...),
	}
	for _, th := range in.Findings.Thresholds {
		for _, m := range []struct {
			name string
			Estimate
		}{{"step", th.Step}, {"lognormal", th.Lognormal}, {"lognormal_individual", th.Individual}} {
			row := []Cell{
				textCell(th.Species), textCell(m.name), countCell(th.Passes), countCell(th.Individuals), countCell(th.PassesUnidentified),
				numberCell(m.SigmaIndividual),
			}
			t.Rows = append(t.Rows, append(row, estimateCells(m.Estimate)...))
		}
	}
	return t
}

func descriptiveTable(in Input) Table {
	t := Table{
		Name: "descriptive", Title: "Fields at which animals turned",
		Note: "Turns with an onset at the active pair, in a field that was not falling: the upper bounds, and the point-dipole formula beside them.",
		Columns: columnsOf("species", "n", "median_nV_per_cm", "q1_nV_per_cm", "q3_nV_per_cm", "smallest_nV_per_cm", "longest_distance_cm", "share_below_5", "share_below_20",
			"textbook_median_nV_per_cm", "textbook_q1_nV_per_cm", "textbook_q3_nV_per_cm", "textbook_smallest_nV_per_cm", "textbook_share_below_20"),
	}
	for i, c := range t.Columns {
		if c.Name == "median_nV_per_cm" {
			t.Columns[i].What = "Median of the upper bounds, type 7."
		}
	}
	for _, d := range in.Findings.Descriptive {
		t.Rows = append(t.Rows, []Cell{
			textCell(d.Species), countCell(d.N), numberCell(d.Median), numberCell(d.Q1), numberCell(d.Q3), numberCell(d.Smallest), numberCell(d.LongestDistanceCm),
			numberCell(d.ShareBelow5), numberCell(d.ShareBelow20),
			numberCell(d.TextbookMedian), numberCell(d.TextbookQ1), numberCell(d.TextbookQ3), numberCell(d.TextbookSmallest), numberCell(d.TextbookBelow20),
		})
	}
	return t
}

func uncertaintyTable(in Input) Table {
	t := Table{
		Name: "uncertainty", Title: "What uncertain inputs do to the detection median",
		Columns: columnsOf("what", "unit", "sd", "how", "species", "detection_median_low_nV_per_cm", "detection_median_high_nV_per_cm", "not_estimable"),
	}
	for _, u := range in.Findings.Uncertainty {
		head := []Cell{textCell(u.What), textCell(u.Unit), numberCell(u.SD), textCell(u.How)}
		if len(u.Species) == 0 {
			t.Rows = append(t.Rows, append(head, Cell{}, Cell{}, Cell{}, Cell{}))
		}
		for _, s := range u.Species {
			row := append(append([]Cell{}, head...), textCell(s.Species), numberCell(s.Median.Low), numberCell(s.Median.High), textCell(s.Median.Why))
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}
