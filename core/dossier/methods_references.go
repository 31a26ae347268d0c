package dossier

import "slices"

// reference is one source that the texts cite. A DOI stands only where it was
// looked up.
type reference struct {
	key, short    string
	authors, year string
	title, where  string
	doi           string
}

var references = []reference{
	{"archie", "Archie 1942", "Archie GE", "1942", "The electrical resistivity log as an aid in determining some reservoir characteristics", "Transactions of the AIME 146: 54–62", "10.2118/942054-G"},
	{"arrive", "ARRIVE guidelines 2.0", "Percie du Sert N et al.", "2020", "The ARRIVE guidelines 2.0: updated guidelines for reporting animal research", "PLoS Biology 18(7): e3000410", "10.1371/journal.pbio.3000410"},
	{"bell", "Bell and McCaffrey 2002", "Bell RM, McCaffrey DF", "2002", "Bias reduction in standard errors for linear regression with multi-stage samples", "Survey Methodology 28: 169–181", ""},
	{"firth", "Firth 1993", "Firth D", "1993", "Bias reduction of maximum likelihood estimates", "Biometrika 80: 27–38", "10.1093/biomet/80.1.27"},
	{"fisher", "Fisher 1922", "Fisher RA", "1922", "On the interpretation of χ² from contingency tables, and the calculation of P", "Journal of the Royal Statistical Society 85: 87–94", "10.2307/2340521"},
	{"heinze", "Heinze and Schemper 2002", "Heinze G, Schemper M", "2002", "A solution to the problem of separation in logistic regression", "Statistics in Medicine 21: 2409–2419", "10.1002/sim.1047"},
	{"hyndman", "Hyndman and Fan 1996", "Hyndman RJ, Fan Y", "1996", "Sample quantiles in statistical packages", "The American Statistician 50: 361–365", "10.1080/00031305.1996.10473566"},
	{"perkin", "Perkin and Lewis 1980", "Perkin RG, Lewis EL", "1980", "The practical salinity scale 1978: fitting the data", "IEEE Journal of Oceanic Engineering 5: 9–16", "10.1109/JOE.1980.1145441"},
	{"phipson", "Phipson and Smyth 2010", "Phipson B, Smyth GK", "2010", "Permutation p-values should never be zero: calculating exact p-values when permutations are randomly drawn", "Statistical Applications in Genetics and Molecular Biology 9: 39", "10.2202/1544-6115.1585"},
	{"pinheiro", "Pinheiro and Bates 1995", "Pinheiro JC, Bates DM", "1995", "Approximations to the log-likelihood function in the nonlinear mixed-effects model", "Journal of Computational and Graphical Statistics 4: 12–35", "10.1080/10618600.1995.10474663"},
	{"reinsch", "Reinsch 1967", "Reinsch CH", "1967", "Smoothing by spline functions", "Numerische Mathematik 10: 177–183", "10.1007/BF02162161"},
	{"turnbull", "Turnbull 1976", "Turnbull BW", "1976", "The empirical distribution function with arbitrarily grouped, censored and truncated data", "Journal of the Royal Statistical Society B 38: 290–295", "10.1111/j.2517-6161.1976.tb01597.x"},
	{"wahba", "Wahba 1978", "Wahba G", "1978", "Improper priors, spline smoothing and the problem of guarding against model errors in regression", "Journal of the Royal Statistical Society B 40: 364–372", "10.1111/j.2517-6161.1978.tb01050.x"},
	{"wang", "Wang 2007", "Wang Y", "2007", "On fast computation of the non-parametric maximum likelihood estimate of a mixing distribution", "Journal of the Royal Statistical Society B 69: 185–198", "10.1111/j.1467-9868.2007.00583.x"},
}

// cite names a source in the text and remembers it for the list.
func (w *page) cite(key string) Run {
	for i := range references {
		if references[i].key == key {
			if !slices.Contains(w.cited, key) {
				w.cited = append(w.cited, key)
			}
			return link(references[i].short, "#references")
		}
	}
	return Run{}
}

// referenceList prints what was cited, in the order of names.
func (w *page) referenceList() {
	var items [][]Run
	for i := range references {
		r := &references[i]
		if !slices.Contains(w.cited, r.key) {
			continue
		}
		item := say("{} ({}). {}. {}.", r.authors, r.year, r.title, r.where)
		if r.doi != "" {
			item = joinRuns(item, say(" {}", link("doi:"+r.doi, "https://doi.org/"+r.doi))...)
		}
		items = append(items, item)
	}
	if len(items) == 0 {
		return
	}
	w.section("references")
	w.list(items)
}
