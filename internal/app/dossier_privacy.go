package app

import (
	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// privateParts are the raw parts of a package of a study as the choices say: its
// season, and beside it what names no more than they allow.
func privateParts(s *study.Study, parts DossierParts, h dossier.Heading, people []string) (DossierParts, error) {
	files, err := season.Write(s)
	if err != nil {
		return parts, err
	}
	parts.Season = Input(files)
	return parts, nil
}
