package app

import (
	"context"
	"errors"
)

var errSoon = errors.New("soon")

// DossierCheck checks a package that was made or sent.
func (s *Study) DossierCheck(ctx context.Context, in DossierNameRequest) (DossierCheckView, error) {
	return DossierCheckView{}, errSoon
}

// DossierCompare says what changed between two packages, and why.
func (s *Study) DossierCompare(ctx context.Context, in DossierCompareRequest) (DossierDifference, error) {
	return DossierDifference{}, errSoon
}
