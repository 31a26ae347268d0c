package app

import "context"

// Uncertainty is what the season's own uncertainties do to the medians of the
// results shown. It takes seconds, with plates minutes; it ends with ctx, and is
// kept while the study is open and its results are the same. Errors: as of
// [Study.Pass].
func (s *Study) Uncertainty(ctx context.Context) (UncertaintyView, error) {
	shown, err := s.look(ctx)
	if err != nil {
		return UncertaintyView{}, err
	}
	done, err := s.uncertain.begin(ctx)
	if err != nil {
		return UncertaintyView{}, err
	}
	defer done()
	if v := s.uncertain.of(shown.Key); v != nil {
		return *v, nil
	}
	a, err := s.heldAnalysis(ctx, shown)
	if err != nil {
		return UncertaintyView{}, err
	}
	v, err := a.uncertaintyView(ctx, s.options.Analyse)
	if err != nil {
		return UncertaintyView{}, err
	}
	s.uncertain.keep(shown.Key, &v)
	return v, nil
}

// Uncertainty is what the season's own uncertainties do to the medians.
func (o *OpenSeason) Uncertainty(ctx context.Context) (UncertaintyView, error) {
	a, err := o.done()
	if err != nil {
		return UncertaintyView{}, err
	}
	done, err := o.uncertain.begin(ctx)
	if err != nil {
		return UncertaintyView{}, err
	}
	defer done()
	if v := o.uncertain.of(""); v != nil {
		return *v, nil
	}
	v, err := a.uncertaintyView(ctx, o.options)
	if err != nil {
		return UncertaintyView{}, err
	}
	o.uncertain.keep("", &v)
	return v, nil
}

// uncertainOnce lets one caller at a time work the section out, and keeps the
// newest. What it holds belongs to whoever has begun.
type uncertainOnce struct {
	turn chan struct{} // holds one while somebody works
	key  string
	view *UncertaintyView
}

func newUncertainOnce() *uncertainOnce { return &uncertainOnce{turn: make(chan struct{}, 1)} }

// begin waits for its turn, or for the end of ctx.
func (u *uncertainOnce) begin(ctx context.Context) (done func(), err error) {
	select {
	case u.turn <- struct{}{}:
		return func() { <-u.turn }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (u *uncertainOnce) of(key string) *UncertaintyView {
	if u.view == nil || u.key != key {
		return nil
	}
	return u.view
}

func (u *uncertainOnce) keep(key string, v *UncertaintyView) { u.key, u.view = key, v }
