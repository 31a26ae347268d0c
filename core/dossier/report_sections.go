package dossier

// The sections of report and methods: what links name, and what is printed.
var sections = []struct{ anchor, title, under string }{
	{"summary", "Summary", ""},
	{"permits", "Ethics, permits, cautions and funding", ""},
	{"methods", "Methods", ""},
	{"design", "Question and design", "methods"},
	{"site", "Site and dates", "methods"},
	{"water", "Water", "methods"},
	{"arrangement", "Bottom, plate and pairs", "methods"},
	{"stimulus", "Stimulus", "methods"},
	{"background", "Other fields", "methods"},
	{"schedule", "Schedule", "methods"},
	{"blinding", "Blinding", "methods"},
	{"preregistration", "Preregistration", "methods"},
	{"procedure", "Procedure and logging", "methods"},
	{"animals", "Animals", "methods"},
	{"positions", "Footage and positions", "methods"},
	{"scoring", "Scoring", "methods"},
	{"exposures", "Field met on each pass", "methods"},
	{"statistics", "Statistical methods", "methods"},
	{"software", "Software", "methods"},
	{"results", "Results", ""},
	{"recorded", "What was recorded", "results"},
	{"field", "The field", "results"},
	{"thresholds", "Detection thresholds", "results"},
	{"preference", "Preference", "results"},
	{"published", "Field at the turn, as usually published", "results"},
	{"individuals", "Individual animals", "results"},
	{"curves", "Curves, and what other assumptions would give", "results"},
	{"uncertainty", "Uncertain inputs", "results"},
	{"checklist", "Reporting checklist", ""},
	{"changes", "Changes after the opening", ""},
	{"adverse", "Adverse events", ""},
	{"package", "How to check this package", ""},
	{"references", "References", ""},
}

func titleOf(anchor string) (title, under string) {
	for _, s := range sections {
		if s.anchor == anchor {
			return s.title, s.under
		}
	}
	return "", ""
}

// sectionIn names a section as the checklist prints it: "Methods: Water".
func sectionIn(anchor string) string {
	title, under := titleOf(anchor)
	if under == "" {
		return title
	}
	over, _ := titleOf(under)
	return over + ": " + title
}

// section begins a section.
func (w *page) section(anchor string) {
	title, under := titleOf(anchor)
	level := 1
	if under != "" {
		level = 2
	}
	w.heading(level, anchor, title)
}
