package journal

import (
	"fmt"

	"brinefield/core/study"
)

// Upcaster lifts the body of an entry from one version of its kind to the
// next. It must not fail: what was once valid stays readable for ever. It may
// change the body that it is given.
type Upcaster func(Body) Body

// Upcasters holds, for each kind, how to lift version 1 to 2, 2 to 3 and so
// on. A kind that is not listed is at version 1.
type Upcasters map[study.Kind][]Upcaster

// upcasters are those of this program.
var upcasters = Upcasters{}

// Latest is the version in which this program writes a kind.
func Latest(kind study.Kind) int { return upcasters.Latest(kind) }

// Latest is the version to which a kind is lifted.
func (u Upcasters) Latest(kind study.Kind) int { return len(u[kind]) + 1 }

// NewerError means that an entry was written by a newer program.
type NewerError struct {
	Kind       study.Kind
	Found, Max int
}

func (e *NewerError) Error() string {
	return fmt.Sprintf("an entry of kind %s has version %d: this program knows versions up to %d; open the study with the newer program", e.Kind, e.Found, e.Max)
}

// Upcast lifts an entry's body to the version that this program uses.
//
// Errors: [*NewerError]; a version below 1.
func Upcast(e Entry) (Entry, error) { return upcasters.Upcast(e) }

// Upcast lifts an entry's body to the latest version. The entry given is not
// changed.
//
// Errors: [*NewerError]; a version below 1.
func (u Upcasters) Upcast(e Entry) (Entry, error) {
	latest := u.Latest(e.Kind)
	switch {
	case e.Version < 1:
		return e, fmt.Errorf("an entry of kind %s has version %d: versions begin at 1", e.Kind, e.Version)
	case e.Version > latest:
		return e, &NewerError{Kind: e.Kind, Found: e.Version, Max: latest}
	}
	if e.Version < latest {
		e.Body = e.Body.clone()
	}
	for _, lift := range u[e.Kind][e.Version-1:] {
		e.Body = lift(e.Body)
	}
	e.Version = latest
	return e, nil
}
