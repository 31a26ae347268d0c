package app

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"brinefield/core/journal"
	"brinefield/core/schedule"
	"brinefield/core/study"
)

// ErrNoCards answers whoever asks for a card without having taken the cards
// out, or too long after.
var ErrNoCards = errors.New("the cards are put away: take them out with a key")

// cardsFor is how long cards stay out.
const cardsFor = 12 * time.Hour

// mostOut is how many operators may have cards out at once.
const mostOut = 8

// cardsOut are the opened schedules of operators. They live in memory only.
type cardsOut struct {
	mu    sync.Mutex
	decks map[string]*hand // by token
}

// hand is what one operator has in hand.
type hand struct {
	seal    string
	by      string // reference to a person
	until   time.Time
	plan    schedule.Plan
	trials  []schedule.Trial // spare draws last
	wires   []string         // by position, from 1 at index 0; "" for shams
	shown   map[string]bool  // written down already
	writing sync.Mutex
}

// take keeps a deck under a new token.
func (c *cardsOut) take(token string, d *hand, now time.Time) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.decks == nil {
		c.decks = map[string]*hand{}
	}
	for t, old := range c.decks {
		if now.After(old.until) {
			delete(c.decks, t)
		}
	}
	if len(c.decks) >= mostOut {
		return fmt.Errorf("%w: %d operators have their cards out; put those away first that are not needed", ErrKey, mostOut)
	}
	c.decks[token] = d
	return nil
}

func (c *cardsOut) of(token string, now time.Time) (*hand, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	d := c.decks[token]
	if d == nil || now.After(d.until) {
		delete(c.decks, token)
		return nil, ErrNoCards
	}
	return d, nil
}

// PutCardsAway forgets what a token stood for. It writes nothing.
func (s *Study) PutCardsAway(_ context.Context, in CardRequest) (EditDone, error) {
	s.cards.mu.Lock()
	defer s.cards.mu.Unlock()
	delete(s.cards.decks, in.Token)
	return EditDone{Entries: []EntryView{}}, nil
}

// TakeCardsOut opens the schedule for whoever throws the switch, in memory
// only, and writes down that it did. What comes back holds no card.
//
// Errors: [ErrReadOnly]; [ErrNoSchedule]; [ErrKey]; [ErrNotSealed]; [*EditError]
// without a name.
func (s *Study) TakeCardsOut(ctx context.Context, in CardsRequest) (CardsView, error) {
	v := CardsView{Trials: []string{}}
	if s.folder.ReadOnly {
		return v, ErrReadOnly
	}
	author := strings.TrimSpace(in.Author)
	if author == "" {
		return v, &EditError{Faults: []EditFault{{Kind: string(study.KindCard), Field: "author", Wrong: "nobody is named", Expected: "expected who throws the switch"}}}
	}
	current, err := s.current(ctx)
	if err != nil {
		return v, err
	}
	seal, err := s.sealInForce(current)
	if err != nil {
		return v, err
	}
	if seal == nil {
		return v, ErrNoSchedule
	}
	opened, _, err := s.openSeal(seal, in.KeyProof)
	if err != nil {
		return v, err
	}
	d, err := newHand(opened)
	if err != nil {
		return v, err
	}
	now := s.options.Clock()
	d.until = now.Add(cardsFor)
	if d.by, err = s.people.mark(ctx, author); err != nil {
		return v, err
	}
	v.Token, err = s.token()
	if err != nil {
		return v, err
	}
	if err := s.showCard(ctx, d, "taken_out", ""); err != nil {
		return v, err
	}
	if err := s.cards.take(v.Token, d, now); err != nil {
		return v, err
	}
	for _, t := range d.trials {
		v.Trials = append(v.Trials, t.ID)
		if v.Next == "" && current.state(recordName{study.KindTrial, t.ID}) == nil {
			v.Next = t.ID
		}
	}
	return v, nil
}

// newHand is an opened schedule as cards.
func newHand(opened *ScheduleDocument) (*hand, error) {
	seed, err := hex.DecodeString(opened.SeedHex)
	if err != nil || len(seed) != schedule.SeedSize {
		return nil, fmt.Errorf("%w: it holds no seed", ErrNotSealed)
	}
	s := opened.core()
	return &hand{
		seal: opened.Seal, plan: s.Plan, trials: slices.Concat(s.Trials, s.Spare), wires: s.Wiring(schedule.Seed(seed)), shown: map[string]bool{},
	}, nil
}

func (s *Study) token() (string, error) {
	s.write.Lock()
	defer s.write.Unlock()
	var b [32]byte
	if _, err := io.ReadFull(s.options.Random, b[:]); err != nil {
		return "", fmt.Errorf("no randomness from this system: %w", err)
	}
	return hex.EncodeToString(b[:]), nil
}

// showCard writes down that something was shown, before it is: once for each
// thing and deck.
func (s *Study) showCard(ctx context.Context, d *hand, what, trial string) error {
	d.writing.Lock()
	defer d.writing.Unlock()
	if d.shown[what+" "+trial] {
		return nil
	}
	s.write.Lock()
	defer s.write.Unlock()
	current, err := s.current(ctx)
	if err != nil {
		return err
	}
	draft := journal.Draft{
		Author: d.by, Kind: study.KindCard, Subject: "card " + strconv.Itoa(len(current.standing(study.KindCard))+1), Act: journal.Record,
		Body: journal.Body{Fields: map[string]string{"what": what, "seal": d.seal}},
	}
	if trial != "" {
		draft.Body.Fields["trial"] = trial
	}
	if _, err := s.append(ctx, []journal.Draft{draft}); err != nil {
		return err
	}
	d.shown[what+" "+trial] = true
	return nil
}

// Card is one card. That it was shown is written down.
//
// Errors: [ErrNoCards]; [ErrSchedule] for a trial that is not there.
func (s *Study) Card(ctx context.Context, in CardRequest) (CardView, error) {
	d, err := s.cards.of(in.Token, s.options.Clock())
	if err != nil {
		return CardView{}, err
	}
	i := slices.IndexFunc(d.trials, func(t schedule.Trial) bool { return t.ID == in.Trial })
	if i < 0 {
		return CardView{}, fmt.Errorf("%w: there is no trial %q", ErrSchedule, in.Trial)
	}
	if err := s.showCard(ctx, d, "card", in.Trial); err != nil {
		return CardView{}, err
	}
	return d.card(i), nil
}

// AllCards are all cards, to be printed.
//
// Errors: [ErrNoCards].
func (s *Study) AllCards(ctx context.Context, in CardRequest) (CardList, error) {
	out := CardList{Cards: []CardView{}}
	d, err := s.cards.of(in.Token, s.options.Clock())
	if err != nil {
		return out, err
	}
	if err := s.showCard(ctx, d, "cards", ""); err != nil {
		return out, err
	}
	out.Seal = d.seal
	for i := range d.trials {
		out.Cards = append(out.Cards, d.card(i))
	}
	return out, nil
}

// Wiring says what is wired to which position of the switch.
//
// Errors: [ErrNoCards].
func (s *Study) Wiring(ctx context.Context, in CardRequest) (WiringView, error) {
	out := WiringView{Wires: []WireView{}}
	d, err := s.cards.of(in.Token, s.options.Clock())
	if err != nil {
		return out, err
	}
	if err := s.showCard(ctx, d, "wiring", ""); err != nil {
		return out, err
	}
	out.Seal = d.seal
	for i, pair := range d.wires {
		out.Wires = append(out.Wires, WireView{Position: i + 1, Pair: pair})
	}
	return out, nil
}

// card is what is done in one trial: positions, not pairs. A sham takes the
// position to which nothing is wired, a silent trial none.
func (d *hand) card(i int) CardView {
	t := &d.trials[i]
	c := CardView{
		Trial: t.ID, Positions: len(d.wires), CurrentUA: t.CurrentUA, Reversed: t.Reversed, Odour: !t.OdourOff,
		Polarities: d.plan.DrawPolarity, Odours: d.plan.OdourOff > 0,
	}
	if t.Kind != schedule.Silent {
		c.Position = slices.Index(d.wires, t.Pair) + 1
	}
	return c
}
