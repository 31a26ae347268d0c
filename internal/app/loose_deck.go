package app

import "context"

// Deck answers [ErrLooseSeason]: a season folder is shown, not logged into. So do
// the other tasks of the deck.
func (l *LooseSeason) Deck(context.Context) (DeckView, error) { return DeckView{}, ErrLooseSeason }

// DeckSync answers [ErrLooseSeason].
func (l *LooseSeason) DeckSync(context.Context, DeckBatch) (DeckAnswer, error) {
	return DeckAnswer{}, ErrLooseSeason
}

// DeckLog answers [ErrLooseSeason].
func (l *LooseSeason) DeckLog(context.Context) (DeckLogView, error) {
	return DeckLogView{}, ErrLooseSeason
}

// DeckSetup answers [ErrLooseSeason].
func (l *LooseSeason) DeckSetup(context.Context, DeckSetupRequest) (DeckView, error) {
	return DeckView{}, ErrLooseSeason
}

// DeckImport answers [ErrLooseSeason].
func (l *LooseSeason) DeckImport(context.Context, DeckImportRequest) (DeckImported, error) {
	return DeckImported{}, ErrLooseSeason
}

// DeckAlign answers [ErrLooseSeason].
func (l *LooseSeason) DeckAlign(context.Context, DeckAlignRequest) (DeckLogView, error) {
	return DeckLogView{}, ErrLooseSeason
}

// DeckReconcile answers [ErrLooseSeason].
func (l *LooseSeason) DeckReconcile(context.Context, DeckReconcileRequest) (DeckLogView, error) {
	return DeckLogView{}, ErrLooseSeason
}

// Attachment answers [ErrLooseSeason].
func (l *LooseSeason) Attachment(context.Context, string) (AttachmentFile, error) {
	return AttachmentFile{}, ErrLooseSeason
}
