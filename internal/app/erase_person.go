package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// ErrUnknownPerson answers for a name that a study does not hold.
var ErrUnknownPerson = errors.New("the study names no such person")

// ErasureDone says what was erased and what still holds the name.
type ErasureDone struct {
	Study     string
	Texts     int      // references that were erased
	Corrected int      // records in which the name stood among others
	StillHeld []string // where the study itself still holds it, in words
}

// Persons lists the texts that name people in a study, in order of the
// alphabet; erased ones are left out.
func (s *Study) Persons(ctx context.Context) ([]string, error) {
	marks, err := s.people.all(ctx)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, name := range marks {
		names = append(names, name)
	}
	slices.Sort(names)
	return names, nil
}

// ErasePerson erases a person's name from a study: the entries stay valid and
// say "erased person". Where the name stands among others in one text, the
// records get the text without it. That it was done is an entry of the journal,
// which does not hold the name.
//
// The files of an import are kept as they came, names and all: StillHeld names
// those. Errors: [ErrUnknownPerson], [ErrReadOnly].
func (s *Study) ErasePerson(ctx context.Context, person, author string) (ErasureDone, error) {
	done := ErasureDone{Study: s.folder.Name}
	if s.folder.ReadOnly {
		return done, ErrReadOnly
	}
	s.write.Lock()
	defer s.write.Unlock()
	marks, err := s.people.all(ctx)
	if err != nil {
		return done, err
	}
	alone, among := marksOf(marks, person)
	if len(alone)+len(among) == 0 {
		return done, s.unknownPerson(person, marks)
	}
	if author == person {
		author = "" // or the erasure would name whom it erased
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return done, err
	}
	// What stands beside the name is saved first, then the texts go, then the
	// journal says so: killed in between, nothing but the name can be missing.
	if done.Corrected, err = s.rewrite(ctx, among, by); err != nil {
		return done, err
	}
	erase := append(alone, mapKeys(among)...)
	for _, mark := range erase {
		if err := s.folder.Erasable.Erase(ctx, strings.TrimPrefix(mark, personMark)); err != nil {
			return done, err
		}
		done.Texts++
	}
	s.people.forget()
	if err := s.writeErasure(ctx, by, "", map[string]string{"what": "a person's name", "texts": strconv.Itoa(done.Texts)}); err != nil {
		return done, err
	}
	s.dropShown()
	done.StillHeld, err = s.originalsThatHold(ctx, person)
	return done, err
}

// all gives the name behind every mark that is held.
func (p *people) all(ctx context.Context) (map[string]string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	refs, err := p.refs(ctx)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, ref := range refs {
		data, err := p.store.Get(ctx, ref)
		if errors.Is(err, ErrErased) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if isName(string(data)) {
			names[personMark+ref] = string(data)
		}
	}
	return names, nil
}

// marksOf finds the texts that are the name, and those in which it stands
// among others, with what is to stand there instead.
func marksOf(marks map[string]string, person string) (alone []string, among map[string]string) {
	among = map[string]string{}
	for mark, text := range marks {
		if text == person {
			alone = append(alone, mark)
			continue
		}
		if without, found := withoutPerson(text, person); found {
			among[mark] = without
		}
	}
	slices.Sort(alone)
	return alone, among
}

// betweenNames are the separators in a text of several names.
const betweenNames = ",;/&+\n"

// withoutPerson replaces a name that stands by itself between separators.
func withoutPerson(text, person string) (string, bool) {
	var out strings.Builder
	found := false
	for rest := text; ; {
		i := strings.IndexAny(rest, betweenNames)
		part := rest
		if i >= 0 {
			part = rest[:i]
		}
		if name := strings.TrimSpace(part); name == person && name != "" {
			part, found = strings.Replace(part, name, "erased person", 1), true
		}
		out.WriteString(part)
		if i < 0 {
			return out.String(), found
		}
		out.WriteByte(rest[i])
		rest = rest[i+1:]
	}
}

// rewrite gives every record that stands and holds one of the marks the text
// without the name.
func (s *Study) rewrite(ctx context.Context, among map[string]string, by string) (int, error) {
	if len(among) == 0 {
		return 0, nil
	}
	states, err := s.folder.Journal.States(ctx, slices.Sorted(maps.Keys(study.PersonFields))...)
	if err != nil {
		return 0, err
	}
	var drafts []journal.Draft
	for i := range states {
		now := &states[i]
		d := journal.Draft{
			Author: by, Kind: now.Kind, Subject: now.ID, Act: journal.Correct, Reason: "a person's name was erased",
			Body: journal.Body{Fields: map[string]string{}, Was: map[string]string{}},
		}
		for _, field := range study.PersonFields[now.Kind] {
			text, ok := among[now.Fields[field]]
			if !ok {
				continue
			}
			mark, err := s.people.mark(ctx, text)
			if err != nil {
				return 0, err
			}
			d.Body.Fields[field], d.Body.Was[field] = mark, now.Fields[field]
		}
		if len(d.Body.Fields) > 0 {
			drafts = append(drafts, d)
		}
	}
	if len(drafts) == 0 {
		return 0, nil
	}
	_, err = s.append(ctx, drafts)
	return len(drafts), err
}

// dropShown forgets the tables in memory that show the name.
func (s *Study) dropShown() {
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	s.results.held = nil
	if s.results.shown != nil {
		kept := *s.results.shown
		kept.exposures = nil
		s.results.shown = &kept
		if !kept.granted { // nowhere kept: it is made again
			s.results.shown = nil
		}
	}
}

// originalsThatHold names the imports whose files hold the text. While the
// active pairs are sealed nobody can look into those files.
func (s *Study) originalsThatHold(ctx context.Context, person string) ([]string, error) {
	imports, err := s.folder.Journal.States(ctx, study.KindImport)
	if err != nil {
		return nil, err
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	var held []string
	for _, i := range imports {
		if !right.Granted() {
			held = append(held, fmt.Sprintf("the files of import %s may hold it: they are sealed with the active pairs and cannot be looked into", i.ID))
			continue
		}
		files, err := s.folder.Guarded.Originals(ctx, right, i.ID)
		if err != nil {
			return held, fmt.Errorf("the files of import %s: %w", i.ID, err)
		}
		for _, name := range mapKeys(files) {
			if bytes.Contains(files[name], []byte(person)) {
				held = append(held, fmt.Sprintf("%s as it came with import %s holds it", name, i.ID))
			}
		}
	}
	return held, nil
}

func (s *Study) unknownPerson(person string, marks map[string]string) error {
	if len(marks) == 0 {
		return fmt.Errorf("%w as %q: it names nobody", ErrUnknownPerson, person)
	}
	names := make([]string, 0, len(marks))
	for _, name := range marks {
		names = append(names, strconv.Quote(name))
	}
	slices.Sort(names)
	return fmt.Errorf("%w as %q; it names %s", ErrUnknownPerson, person, strings.Join(slices.Compact(names), ", "))
}

func mapKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
