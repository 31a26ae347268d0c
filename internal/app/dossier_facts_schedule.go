package app

import (
	"context"
	"fmt"
	"strings"

	"brinefield/core/dossier"
)

func stampFact(v StampView) dossier.StampFact {
	return dossier.StampFact{When: v.When, By: v.By, Reason: v.Reason}
}

// scheduleFacts are how active pairs were drawn, sealed and opened, who could have
// known, and what was planned beforehand. The view obeys the right.
func (s *Study) scheduleFacts(ctx context.Context, _ *dossierRaw, f *dossier.Facts) error {
	v, err := s.Schedule(ctx)
	if err != nil {
		return err
	}
	if len(v.Seals) > 0 || v.Lock != nil || len(v.Openings) > 0 {
		f.Schedule = scheduleFact(&v)
	}
	f.Blinding = dossier.BlindingFacts{AfterOpening: len(v.After) + v.MoreAfter, Warnings: v.Warnings}
	for _, g := range v.Guessed {
		f.Blinding.Guesses = append(f.Blinding.Guesses, dossier.GuessFact{
			By: g.By, Guesses: g.Guesses, Hits: g.Hits, Expected: g.Expected, P: g.P, Why: g.NotEstimable,
		})
	}
	for _, k := range v.Knowers {
		f.Blinding.Knowers = append(f.Blinding.Knowers, dossier.KnowerFact{
			Who: k.Who, How: knownHow(k.How), Since: k.Since, Trials: len(k.Trials), Scored: k.Scored,
		})
	}
	registered, err := s.registered(ctx)
	if err != nil {
		return err
	}
	for _, r := range registered {
		f.Preregistration = append(f.Preregistration, dossier.RegisteredFact{ID: r.ID, When: r.Written.When, SHA256: r.SHA256, Late: r.Late})
	}
	return nil
}

func knownHow(how string) string {
	words := map[string]string{
		"key": "holds a key", "rehearsal": "tried a key", "card": "saw a card of the operator", "cards": "took out the operator's cards",
		"wiring": "saw the wiring", "import": "imported active pairs", "opening": "opened active pairs",
	}
	if text, known := words[how]; known {
		return text
	}
	return how
}

func scheduleFact(v *ScheduleView) *dossier.ScheduleFacts {
	out := &dossier.ScheduleFacts{AllOpened: !v.Blind}
	for i := range v.Seals {
		seal := &v.Seals[i]
		if seal.Problem != "" {
			out.Problems = append(out.Problems, seal.Problem)
		}
		if !seal.InForce {
			continue
		}
		written := stampFact(seal.Written)
		out.Sealed, out.Seal, out.Written, out.Rule = true, seal.Seal, &written, ruleWords(&seal.Plan, &seal.Rule)
		out.Trials, out.Spare, out.TrialsRun, out.Keys = seal.Plan.Trials, seal.Plan.Spare, seal.TrialsRun, len(seal.Keys)
		for _, k := range seal.Keys {
			if k.Rehearsed != nil {
				out.Rehearsed++
			}
		}
	}
	if v.Lock != nil {
		lock := stampFact(*v.Lock)
		out.Locked = &lock
	}
	for _, o := range v.Openings {
		out.Openings = append(out.Openings, stampFact(o.Opened))
	}
	if v.Balance != nil && !v.Blind {
		out.Balance = balanceWords(v.Balance)
	}
	return out
}

func ruleWords(p *SchedulePlan, r *ScheduleRule) string {
	text := fmt.Sprintf("permuted blocks of %s over the pairs %s", trials(r.Block), strings.Join(p.Pairs, ", "))
	if p.Silent > 0 {
		text += fmt.Sprintf(", %d silent", p.Silent)
	}
	if p.Sham > 0 {
		text += fmt.Sprintf(", %d sham", p.Sham)
	}
	if r.MostAlike > 0 {
		text += fmt.Sprintf(", no pair in more than %d driven trials running", r.MostAlike)
	}
	return text
}

func balanceWords(b *ScheduleBalance) string {
	parts := make([]string, len(b.Pairs))
	for i, p := range b.Pairs {
		parts[i] = fmt.Sprintf("%s %d", p.Pair, p.Trials)
	}
	return fmt.Sprintf("driven trials by pair: %s; at most %d running with one pair", strings.Join(parts, ", "), b.LongestRun)
}
