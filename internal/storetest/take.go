package storetest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/internal/app"
)

// Blob is what a reference of another device stands for, with the reference: by
// FIPS 180-4 as the standard library computes it.
func Blob(chance byte, data string) (ref string, salt []byte) {
	salt = bytes.Repeat([]byte{chance}, 32)
	sum := sha256.Sum256(append(bytes.Clone(salt), data...))
	return hex.EncodeToString(sum[:]), salt
}

func guardedBlob(chance byte, body string) app.GuardedBlob {
	ref, salt := Blob(chance, body)
	return app.GuardedBlob{Ref: ref, Salt: salt, Body: []byte(body)}
}

func testTakeAssignments(t *testing.T, open Open) {
	s := open(t)
	own, err := s.Guarded.PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}})
	if err != nil {
		t.Fatal(err)
	}
	good := []app.GuardedBlob{guardedBlob(1, `{"current_uA":"9.1"}`), guardedBlob(2, `{"current_uA":"9.1"}`), guardedBlob(3, `{}`)}
	want := []app.Assignment{{"current_uA": "9.1"}, {"current_uA": "9.1"}, {}, {"active_pair": "A"}}
	refs := []string{good[0].Ref, good[1].Ref, good[2].Ref, own[0]}
	plain := s.Plain(t)

	changed, shortSalt, noSalt := good[0], good[0], good[0]
	changed.Body = []byte(`{"current_uA":"9.2"}`)
	shortSalt.Salt, noSalt.Salt = shortSalt.Salt[:31], nil
	// One byte of the salt in the body: the same hash over both.
	moved := app.GuardedBlob{Ref: good[0].Ref, Salt: good[0].Salt[:31], Body: append([]byte{1}, good[0].Body...)}
	for what, bad := range map[string]app.GuardedBlob{
		"changed": changed, "a short salt": shortSalt, "no salt": noSalt, "salt and body told apart otherwise": moved, "no reference": {Salt: good[0].Salt, Body: good[0].Body},
		"not canonical": guardedBlob(4, `{"current_uA": "9.1"}`), "no object": guardedBlob(5, `["9.1"]`), "nothing": guardedBlob(6, ``), "null": guardedBlob(7, `null`),
		"a number": guardedBlob(8, `{"current_uA":9.1}`), "a null": guardedBlob(9, `{"current_uA":null}`), "not in order": guardedBlob(10, `{"b":"1","a":"2"}`),
		"twice": guardedBlob(11, `{"a":"1","a":"2"}`), "something after it": guardedBlob(12, `{} `), "not UTF-8": guardedBlob(13, "{\"a\":\"\xff\"}"), "in depth": guardedBlob(14, `{"a":{"b":"c"}}`),
	} {
		fresh, err := s.Guarded.TakeAssignments(t.Context(), []app.GuardedBlob{good[0], bad})
		if err == nil || fresh != 0 {
			t.Errorf("%s: %d, %v", what, fresh, err)
		}
		if bad.Ref == good[0].Ref && !errors.Is(err, app.ErrOtherBlob) {
			t.Errorf("%s: %v", what, err)
		}
		if _, err := s.Guarded.Assignments(t.Context(), Granted(), []string{good[0].Ref}); err == nil {
			t.Fatalf("%s: what stood before it was kept", what)
		}
	}
	stopped := &stopAfter{Context: t.Context()}
	if _, err := s.Guarded.TakeAssignments(stopped, good); err == nil {
		t.Error("a stopped one was kept")
	}
	for round, wantFresh := range []int{2, 1, 0} {
		batch := good[:min(2+round, 3)]
		if fresh, err := s.Guarded.TakeAssignments(t.Context(), append(batch[:len(batch):len(batch)], batch[0])); err != nil || fresh != wantFresh {
			t.Errorf("round %d: %d, %v", round, fresh, err)
		}
	}
	if fresh, err := s.Guarded.TakeAssignments(t.Context(), nil); err != nil || fresh != 0 {
		t.Errorf("none: %d, %v", fresh, err)
	}
	for _, s := range []Stores{s, s.Again(t)} { // on the disc when it returned
		got, err := s.Guarded.Assignments(t.Context(), Granted(), refs)
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("%v (-want +got):\n%s", err, diff)
		}
		var none app.Right
		if got, err := s.Guarded.Assignments(t.Context(), none, refs[:1]); !errors.Is(err, app.ErrBlind) || got != nil {
			t.Errorf("without a right: %v, %v", got, err)
		}
		if diff := cmp.Diff(plain, s.Plain(t)); diff != "" {
			t.Errorf("it shows outside:\n%s", diff)
		}
	}
}

// RunErasable tests the promises of a store of what may have to be forgotten.
// again opens the same one as after a program that was killed.
func RunErasable(t *testing.T, open func(*testing.T) (store app.ErasableStore, again func(*testing.T) app.ErasableStore)) {
	t.Run("what another device sends", func(t *testing.T) {
		s, again := open(t)
		own, err := s.Put(t.Context(), []byte("Aoife, invented"))
		if err != nil {
			t.Fatal(err)
		}
		const name = "Nora Quill, invented"
		ref, salt := Blob(7, name)
		for what, bad := range map[string]struct {
			ref        string
			salt, data []byte
		}{
			"other data": {ref, salt, []byte("Nora Quil, invented")}, "no data": {ref, salt, nil}, "another salt": {ref, bytes.Repeat([]byte{8}, 32), []byte(name)},
			"a short salt": {ref, salt[:31], []byte(name)}, "salt and data told apart otherwise": {ref, salt[:31], []byte("\x07" + name)},
			"a long salt": {ref, append(bytes.Clone(salt), 'N'), []byte(name[1:])}, "another reference": {strings.Repeat("0", 64), salt, []byte(name)},
			"no reference": {"", salt, []byte(name)}, "capitals": {strings.ToUpper(ref), salt, []byte(name)}, "a path": {"../" + ref[3:], salt, []byte(name)},
		} {
			if fresh, err := s.Take(t.Context(), bad.ref, bad.salt, bad.data); err == nil || fresh {
				t.Errorf("%s: %v, %v", what, fresh, err)
			} else if bad.ref == ref && !errors.Is(err, app.ErrOtherBlob) {
				t.Errorf("%s: %v", what, err)
			}
		}
		var absent *app.AbsentError
		if _, err := s.Get(t.Context(), ref); !errors.As(err, &absent) || absent.Ref != ref {
			t.Fatalf("before it came: %v", err)
		}
		for i := range 3 {
			if fresh, err := s.Take(t.Context(), ref, salt, []byte(name)); err != nil || fresh != (i == 0) {
				t.Errorf("taken %d times: %v, %v", i, fresh, err)
			}
		}
		empty, emptySalt := Blob(9, "")
		if fresh, err := s.Take(t.Context(), empty, emptySalt, nil); err != nil || !fresh {
			t.Errorf("nothing at all: %v, %v", fresh, err)
		}
		later := again(t)
		for _, s := range []app.ErasableStore{s, later} {
			for ref, want := range map[string]string{ref: name, own: "Aoife, invented", empty: ""} {
				if got, err := s.Get(t.Context(), ref); err != nil || string(got) != want {
					t.Errorf("%q, %v, want %q", got, err, want)
				}
			}
			if refs, err := s.Refs(t.Context()); err != nil || len(refs) != 3 {
				t.Errorf("%v, %v", refs, err)
			}
		}
		if err := later.Erase(t.Context(), ref); err != nil {
			t.Fatal(err)
		}
		for _, s := range []app.ErasableStore{later, again(t)} { // erased stays erased
			if fresh, err := s.Take(t.Context(), ref, salt, []byte(name)); !errors.Is(err, app.ErrErased) || fresh {
				t.Errorf("erased: %v, %v", fresh, err)
			}
			if _, err := s.Get(t.Context(), ref); !errors.Is(err, app.ErrErased) {
				t.Errorf("erased: %v", err)
			}
		}
	})
}
