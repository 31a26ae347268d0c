package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"brinefield/internal/app"
)

func (m *memStudy) PutAssignments(_ context.Context, assignments []app.Assignment) ([]string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	refs := make([]string, len(assignments))
	for i, a := range assignments {
		text, err := json.Marshal(a)
		if err != nil {
			return nil, err
		}
		salt := m.chance(32)
		sum := sha256.Sum256(append(slices.Clone(salt), text...))
		refs[i] = hex.EncodeToString(sum[:])
		m.guarded[refs[i]] = memSalted{salt, maps.Clone(a)}
	}
	return refs, m.breaks("assignments")
}

func (m *memStudy) TakeAssignments(ctx context.Context, blobs []app.GuardedBlob) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	taken := map[string]memSalted{}
	for _, b := range blobs {
		a, err := b.Check()
		if err != nil {
			return 0, err
		}
		if _, here := m.guarded[b.Ref]; !here {
			taken[b.Ref] = memSalted{bytes.Clone(b.Salt), a}
		}
	}
	if err := errors.Join(ctx.Err(), m.breaks("take assignments")); err != nil {
		return 0, err
	}
	maps.Copy(m.guarded, taken)
	return len(taken), nil
}

func (m *memStudy) Assignments(_ context.Context, right app.Right, refs []string) ([]app.Assignment, error) {
	if !right.Some() {
		return nil, app.ErrBlind
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	out := make([]app.Assignment, len(refs))
	for i, ref := range refs {
		held, ok := m.guarded[ref]
		if !ok {
			return nil, &app.AbsentError{Ref: ref, Lost: fmt.Errorf("no assignment %s", ref)}
		}
		out[i] = maps.Clone(held.Assignment)
	}
	return out, nil
}

func (m *memStudy) PutOriginals(_ context.Context, importID string, in app.Input) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.originals[importID] != nil {
		return fmt.Errorf("import %s is kept already", importID)
	}
	m.originals[importID] = maps.Clone(in)
	return m.breaks("originals")
}

func (m *memStudy) Originals(_ context.Context, right app.Right, importID string) (app.Input, error) {
	if !right.Granted() {
		return nil, app.ErrBlind
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.originals[importID] == nil {
		return nil, fmt.Errorf("no import %s", importID)
	}
	return m.originals[importID], nil
}

func (m *memStudy) PutResult(_ context.Context, fingerprint, kind string, data []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.results = slices.DeleteFunc(m.results, func(r memResult) bool { return r.fingerprint == fingerprint && r.kind == kind })
	m.results = append(m.results, memResult{fingerprint, kind, bytes.Clone(data)})
	n := 0
	for i := len(m.results) - 1; i >= 0; i-- {
		if m.results[i].kind != kind {
			continue
		}
		if n++; n > 8 {
			m.results = slices.Delete(m.results, i, i+1)
		}
	}
	return nil
}

func (m *memStudy) Result(_ context.Context, right app.Right, fingerprint, kind string) ([]byte, error) {
	return m.result(right, func(r memResult) bool { return r.fingerprint == fingerprint && r.kind == kind })
}

func (m *memStudy) LatestResult(_ context.Context, right app.Right, kind string) (fingerprint string, data []byte, err error) {
	data, err = m.result(right, func(r memResult) bool {
		if r.kind == kind {
			fingerprint = r.fingerprint
		}
		return r.kind == kind
	})
	return fingerprint, data, err
}

func (m *memStudy) result(right app.Right, wanted func(memResult) bool) ([]byte, error) {
	if !right.Granted() {
		return nil, app.ErrBlind
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range slices.Backward(m.results) {
		if wanted(r) {
			return bytes.Clone(r.data), nil
		}
	}
	return nil, app.ErrNoResult
}

// memErasable is the erasable store of a study.
type memErasable memStudy

func (m *memErasable) Put(_ context.Context, data []byte) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	kept := append((*memStudy)(m).chance(32), data...)
	sum := sha256.Sum256(kept)
	ref := hex.EncodeToString(sum[:])
	m.erasable[ref] = kept
	return ref, (*memStudy)(m).breaks("person")
}

func (m *memErasable) Take(_ context.Context, ref string, salt, data []byte) (bool, error) {
	if err := app.CheckBlob(ref, salt, data); err != nil {
		return false, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	kept, here := m.erasable[ref]
	if here && kept == nil {
		return false, app.ErrErased
	}
	if err := (*memStudy)(m).breaks("take"); err != nil {
		return false, err
	}
	m.erasable[ref] = slices.Concat(salt, data)
	return !here, nil
}

func (m *memErasable) Get(_ context.Context, ref string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	kept, ok := m.erasable[ref]
	switch {
	case !ok:
		return nil, &app.AbsentError{Ref: ref, Lost: fmt.Errorf("nothing under %s", ref)}
	case kept == nil:
		return nil, app.ErrErased
	}
	return kept[32:], nil
}

func (m *memErasable) Erase(_ context.Context, ref string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.erasable[ref] = nil
	return nil
}

func (m *memErasable) Refs(context.Context) ([]string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var refs []string
	for ref, kept := range m.erasable {
		if kept != nil {
			refs = append(refs, ref)
		}
	}
	slices.Sort(refs)
	return refs, nil
}
