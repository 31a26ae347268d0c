package app

import (
	"context"

	"brinefield/core/study"
)

// Schedule is the page Schedule of a season folder: its trials, in the open.
func (l *LooseSeason) Schedule(context.Context) (ScheduleView, error) {
	o := l.season
	v := ScheduleView{
		Study: o.name, ReadOnly: true, Pairs: []string{}, Seals: []SealView{}, Trials: []ScheduleTrialView{}, Openings: []OpeningView{},
		Guesses: []GuessView{}, Guessed: []GuessTest{}, Knowers: []KnowerView{}, Warnings: []string{}, After: []AfterOpening{},
	}
	if o.study == nil {
		return v, nil
	}
	passes := make([]int, len(o.study.Trials))
	for i := range o.study.Passes {
		p := &o.study.Passes[i]
		if p.Trial >= 0 && p.Trial < len(passes) {
			passes[p.Trial]++
		}
		if p.Turned == study.NotScored && p.Bit != study.Yes {
			v.Unscored++
		}
	}
	for _, p := range o.study.Pairs {
		v.Pairs = append(v.Pairs, p.Label)
	}
	v.Start = startPlan(v.Pairs)
	for i := range o.study.Trials {
		shown := trialView(o.study, &o.study.Trials[i], passes[i])
		row := ScheduleTrialView{Trial: shown.Trial, Run: true, Passes: shown.Passes, Opened: !shown.Sealed, CurrentUA: shown.CurrentUA}
		switch {
		case shown.Sealed:
			v.Blind = true
		case shown.Silent:
			row.ActivePair = "none"
		default:
			for k, label := range shown.ActivePairs {
				if k > 0 {
					row.ActivePair += "+"
				}
				row.ActivePair += label
			}
		}
		v.Trials = append(v.Trials, row)
	}
	return v, nil
}

// ScheduleAsOpened answers [ErrLooseSeason], as do the other tasks on a
// schedule.
func (l *LooseSeason) ScheduleAsOpened(context.Context) (ScheduleDocument, error) {
	return ScheduleDocument{}, ErrLooseSeason
}

// SealSchedule answers [ErrLooseSeason].
func (l *LooseSeason) SealSchedule(context.Context, SealRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// TakeSchedule answers [ErrLooseSeason].
func (l *LooseSeason) TakeSchedule(context.Context, TakeRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// RehearseKey answers [ErrLooseSeason].
func (l *LooseSeason) RehearseKey(context.Context, RehearseRequest) (RehearsalView, error) {
	return RehearsalView{}, ErrLooseSeason
}

// TakeCardsOut answers [ErrLooseSeason].
func (l *LooseSeason) TakeCardsOut(context.Context, CardsRequest) (CardsView, error) {
	return CardsView{}, ErrLooseSeason
}

// Card answers [ErrLooseSeason].
func (l *LooseSeason) Card(context.Context, CardRequest) (CardView, error) {
	return CardView{}, ErrLooseSeason
}

// AllCards answers [ErrLooseSeason].
func (l *LooseSeason) AllCards(context.Context, CardRequest) (CardList, error) {
	return CardList{}, ErrLooseSeason
}

// Wiring answers [ErrLooseSeason].
func (l *LooseSeason) Wiring(context.Context, CardRequest) (WiringView, error) {
	return WiringView{}, ErrLooseSeason
}

// PutCardsAway answers [ErrLooseSeason].
func (l *LooseSeason) PutCardsAway(context.Context, CardRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// LockScoring answers [ErrLooseSeason].
func (l *LooseSeason) LockScoring(context.Context, LockRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// UnlockScoring answers [ErrLooseSeason].
func (l *LooseSeason) UnlockScoring(context.Context, UnlockRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}
