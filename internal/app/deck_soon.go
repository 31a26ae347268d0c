package app

import (
	"context"
	"errors"
)

var errSoon = errors.New("this part of the deck is being built")

func (s *Study) DeckLog(context.Context) (DeckLogView, error) { return DeckLogView{}, errSoon }

func (s *Study) DeckImport(context.Context, DeckImportRequest) (DeckImported, error) {
	return DeckImported{}, errSoon
}

func (s *Study) DeckAlign(context.Context, DeckAlignRequest) (DeckLogView, error) {
	return DeckLogView{}, errSoon
}

func (s *Study) DeckReconcile(context.Context, DeckReconcileRequest) (DeckLogView, error) {
	return DeckLogView{}, errSoon
}
