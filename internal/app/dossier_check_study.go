package app

import (
	"context"
	"errors"
)

// openStored opens a package that was made or sent, and reads all of it once.
func (s *Study) openStored(ctx context.Context, name string) (*Package, StoredFile, error) {
	if s.folder.Dossiers == nil {
		return nil, nil, ErrNoDossiers
	}
	f, err := s.folder.Dossiers.Open(ctx, name)
	if err != nil {
		return nil, nil, err
	}
	p, err := OpenPackage(name, f, f.Size(), UsualLimits)
	if err == nil {
		err = p.Scan(ctx, nil)
	}
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return p, f, nil
}

// DossierCheck checks a package that was made or sent.
//
// Errors: [ErrNoDossier]; a [*PackageError] where it cannot be read; those of
// [WorkOutAgain].
func (s *Study) DossierCheck(ctx context.Context, in DossierNameRequest) (DossierCheckView, error) {
	p, f, err := s.openStored(ctx, in.Package)
	if err != nil {
		return DossierCheckView{}, err
	}
	defer f.Close()
	var v DossierCheckView
	if v.Check, err = CheckPackage(ctx, p, s.options.Program, nil); err != nil || !in.Again {
		return v, err
	}
	if s.options.Printer == nil {
		return v, ErrNoPrinter
	}
	again, err := WorkOutAgain(ctx, p, s.options.Program, s.options.Printer, nil)
	var faults *FaultsError
	if errors.As(err, &faults) {
		return v, nil // the check lists them
	}
	v.Again = &again
	return v, err
}

// DossierCompare says what changed between two packages, and why.
//
// Errors: [ErrNoDossier]; a [*PackageError] where one cannot be read.
func (s *Study) DossierCompare(ctx context.Context, in DossierCompareRequest) (DossierDifference, error) {
	var packages [2]*Package
	for i, name := range []string{in.Old, in.New} {
		p, f, err := s.openStored(ctx, name)
		if err != nil {
			return DossierDifference{}, err
		}
		defer f.Close()
		packages[i] = p
	}
	return ComparePackages(ctx, packages[0], packages[1], s.options.Program, nil)
}
