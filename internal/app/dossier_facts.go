package app

import (
	"context"
	"slices"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

// scorerFacts count the passes that each person scored, in order of first
// appearance.
func scorerFacts(s *study.Study) []dossier.ScorerFact {
	var out []dossier.ScorerFact
	of := func(who string) *dossier.ScorerFact {
		i := slices.IndexFunc(out, func(f dossier.ScorerFact) bool { return f.Who == who })
		if i < 0 {
			i, out = len(out), append(out, dossier.ScorerFact{Who: who})
		}
		return &out[i]
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		if p.Scorer != "" {
			of(p.Scorer).Passes++
		}
		if p.SecondScorer != "" {
			of(p.SecondScorer).Second++
		}
	}
	return out
}

func (s *Study) dossierFacts(ctx context.Context, raw *dossierRaw) (dossier.Facts, error) {
	if raw.data.Study == nil {
		return dossier.Facts{Format: Format}, nil
	}
	return seasonFacts(raw.data.Study), ctx.Err()
}
