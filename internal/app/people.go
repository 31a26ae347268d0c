package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"brinefield/core/study"
)

// personMark begins a value that stands for a person: the rest is a reference
// of an [ErasableStore].
const personMark = "person:"

// people finds the names behind references and the references of names. A
// name has one reference in a study.
type people struct {
	store ErasableStore
	// attached are the references of photos and voice notes, which the store
	// holds too and which are no names.
	attached func(ctx context.Context) (map[string]bool, error)

	mu    sync.Mutex
	read  bool              // everything that the store holds
	names map[string]string // by value
	marks map[string]string // by name
}

// forget drops what was read, because a name may have been erased.
func (p *people) forget() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.read, p.names, p.marks = false, nil, nil
}

// name is what people read for a value of a field that names people: the name,
// or "erased person" with a number that stays the same.
func (p *people) name(ctx context.Context, value string) (string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.look(ctx, value)
}

func (p *people) look(ctx context.Context, value string) (string, error) {
	ref, ok := strings.CutPrefix(value, personMark)
	if !ok {
		return value, nil
	}
	if name, ok := p.names[value]; ok {
		return name, nil
	}
	name, err := p.fetch(ctx, ref)
	if err != nil {
		return "", err
	}
	if !isName(name) {
		name = numbered("person whose name cannot be read", ref)
	}
	p.keep(value, name)
	return name, nil
}

func (p *people) fetch(ctx context.Context, ref string) (string, error) {
	data, err := p.store.Get(ctx, ref)
	var absent *AbsentError
	switch {
	case errors.Is(err, ErrErased):
		return erasedName(ref), nil
	case errors.As(err, &absent):
		return absentName(ref), nil
	}
	return string(data), err
}

func (p *people) keep(value, name string) {
	if p.names == nil {
		p.names, p.marks = map[string]string{}, map[string]string{}
	}
	p.names[value] = name
	if _, taken := p.marks[name]; !taken {
		p.marks[name] = value
	}
}

// erasedName tells erased people apart by a number of six digits made of the
// reference, which tells nothing about the name.
func erasedName(ref string) string { return numbered("erased person", ref) }

// absentName stands for somebody whose name another device keeps and has not
// sent yet. Verify tells whether it should be here.
func absentName(ref string) string { return numbered("person not named here yet", ref) }

func numbered(who, ref string) string {
	n, err := strconv.ParseUint(ref[:min(8, len(ref))], 16, 64)
	if err != nil {
		return who
	}
	return fmt.Sprintf("%s %06d", who, n%1_000_000)
}

// mark is the value that stands for a name, made where there is none yet.
// What is made and then not used does no harm.
func (p *people) mark(ctx context.Context, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.readAll(ctx); err != nil {
		return "", err
	}
	if value, ok := p.marks[name]; ok {
		return value, nil
	}
	ref, err := p.store.Put(ctx, []byte(name))
	if err != nil {
		return "", err
	}
	p.keep(personMark+ref, name)
	return personMark + ref, nil
}

func (p *people) readAll(ctx context.Context) error {
	if p.read {
		return nil
	}
	refs, err := p.refs(ctx)
	if err != nil {
		return err
	}
	for _, ref := range refs {
		if _, known := p.names[personMark+ref]; known {
			continue
		}
		name, err := p.fetch(ctx, ref)
		if err != nil {
			return err
		}
		if isName(name) {
			p.keep(personMark+ref, name)
		}
	}
	p.read = true
	return nil
}

// refs are the references of texts, in order.
func (p *people) refs(ctx context.Context) ([]string, error) {
	refs, err := p.store.Refs(ctx)
	if err != nil {
		return nil, err
	}
	if p.attached != nil {
		attached, err := p.attached(ctx)
		if err != nil {
			return nil, err
		}
		refs = slices.DeleteFunc(refs, func(ref string) bool { return attached[ref] })
	}
	slices.Sort(refs)
	return refs, nil
}

// longestNames bounds what is taken for a text that names people. What is longer,
// or no text, is a photo or a voice note whose entry did not come or was withdrawn.
const longestNames = 64 << 10

func isName(text string) bool {
	return text != "" && len(text) <= longestNames && utf8.ValidString(text) && !strings.ContainsRune(text, 0)
}

// named are the single names that are held, by what stands for them. A text of
// several names is none, and neither is what was erased.
func (p *people) named(ctx context.Context) (map[string]string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.readAll(ctx); err != nil {
		return nil, err
	}
	refs, err := p.refs(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, ref := range refs {
		name := p.names[personMark+ref]
		if isName(name) && !strings.ContainsAny(name, betweenNames) && p.marks[name] == personMark+ref {
			out[personMark+ref] = name
		}
	}
	return out, nil
}

// clear is the record with names in the place of references.
func (p *people) clear(ctx context.Context, r study.Record) (study.Record, error) {
	var fields map[string]string
	for _, field := range study.PersonFields[r.Kind] {
		value, ok := r.Fields[field]
		if !ok {
			continue
		}
		name, err := p.name(ctx, value)
		if err != nil {
			return r, err
		}
		if fields == nil {
			fields = maps.Clone(r.Fields)
		}
		fields[field] = name
	}
	if fields != nil {
		r.Fields = fields
	}
	return r, nil
}
