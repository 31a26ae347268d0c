package sqlite

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/gowebpki/jcs"

	"brinefield/internal/app"
	"brinefield/internal/sqlite/guardeddb"
)

// guardedStore is the app.GuardedStore of a study. Who may ask is settled
// before the database is.
type guardedStore struct{ s *Study }

// newestResults are kept of each kind.
const newestResults = 8

func (g *guardedStore) queries() *guardeddb.Queries { return guardeddb.New(g.s.readGuarded) }

// refOf is the reference to an assignment. The salt keeps anyone from trying
// out which of the few possible assignments has this hash.
func refOf(salt, body []byte) string {
	h := sha256.New()
	h.Write(salt)
	h.Write(body)
	return hex.EncodeToString(h.Sum(nil))
}

func (g *guardedStore) PutAssignments(ctx context.Context, assignments []app.Assignment) ([]string, error) {
	refs := make([]string, len(assignments))
	err := g.s.changeGuarded(ctx, func(ctx context.Context, q *guardeddb.Queries) error {
		for i, a := range assignments {
			if a == nil {
				a = app.Assignment{}
			}
			raw, err := json.Marshal(a)
			if err != nil {
				return err
			}
			body, err := jcs.Transform(raw)
			if err != nil {
				return err
			}
			salt := make([]byte, 32)
			if err := g.s.random.fill(salt); err != nil {
				return err
			}
			refs[i] = refOf(salt, body)
			if err := q.InsertAssignment(ctx, refs[i], salt, body); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return refs, nil
}

func (g *guardedStore) TakeAssignments(ctx context.Context, blobs []app.GuardedBlob) (fresh int, err error) {
	for i := range blobs {
		if _, err := blobs[i].Check(); err != nil {
			return 0, err
		}
	}
	if len(blobs) == 0 {
		return 0, ctx.Err()
	}
	err = g.s.changeGuarded(ctx, func(ctx context.Context, q *guardeddb.Queries) error {
		for _, b := range blobs {
			row, err := q.AssignmentOf(ctx, b.Ref)
			switch {
			case err == nil && refOf(row.Salt, row.Body) != b.Ref:
				return g.s.damaged(fmt.Sprintf("the active pair kept under %s was changed", b.Ref))
			case err == nil:
				continue
			case !errors.Is(err, sql.ErrNoRows):
				return err
			}
			if err := q.InsertAssignment(ctx, b.Ref, b.Salt, b.Body); err != nil {
				return err
			}
			fresh++
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return fresh, nil
}

func (g *guardedStore) Assignments(ctx context.Context, right app.Right, refs []string) ([]app.Assignment, error) {
	if !right.Some() {
		return nil, app.ErrBlind
	}
	q := g.queries()
	assignments := make([]app.Assignment, len(refs))
	for i, ref := range refs {
		row, err := q.AssignmentOf(ctx, ref)
		if errors.Is(err, sql.ErrNoRows) {
			return nil, &app.AbsentError{Ref: ref, Lost: g.s.damaged(fmt.Sprintf("the active pair of a trial is missing (reference %q)", ref))}
		}
		if err != nil {
			return nil, explain(g.s.name, err)
		}
		if refOf(row.Salt, row.Body) != ref {
			return nil, g.s.damaged(fmt.Sprintf("the active pair kept under %s was changed", ref))
		}
		if err := json.Unmarshal(row.Body, &assignments[i]); err != nil {
			return nil, g.s.damaged(fmt.Sprintf("the active pair kept under %s cannot be read: %v", ref, err))
		}
	}
	return assignments, nil
}

func (g *guardedStore) PutOriginals(ctx context.Context, importID string, in app.Input) error {
	return g.s.changeGuarded(ctx, func(ctx context.Context, q *guardeddb.Queries) error {
		there, err := q.OriginalsOf(ctx, importID)
		if err != nil {
			return err
		}
		if len(there) > 0 {
			return fmt.Errorf("the files of import %s are kept already and are never changed", importID)
		}
		for _, name := range slices.Sorted(maps.Keys(in)) {
			data, packed, sum, err := pack(in[name])
			if err != nil {
				return err
			}
			if err := q.InsertOriginal(ctx, guardeddb.InsertOriginalParams{Import: importID, Name: name, Sha256: sum, Packed: packed, Data: data}); err != nil {
				return err
			}
		}
		return nil
	})
}

func (g *guardedStore) Originals(ctx context.Context, right app.Right, importID string) (app.Input, error) {
	if !right.Granted() {
		return nil, app.ErrBlind
	}
	rows, err := g.queries().OriginalsOf(ctx, importID)
	if err != nil {
		return nil, explain(g.s.name, err)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("no files are kept of an import %q", importID)
	}
	in := make(app.Input, len(rows))
	for _, row := range rows {
		if in[row.Name], err = unpack(row.Data, row.Packed, row.Sha256); err != nil {
			return nil, g.s.damaged(fmt.Sprintf("the file %s of import %s: %v", row.Name, importID, err))
		}
	}
	return in, nil
}

func (g *guardedStore) PutResult(ctx context.Context, fingerprint, kind string, data []byte) error {
	packedData, packed, sum, err := pack(data)
	if err != nil {
		return err
	}
	return g.s.changeGuarded(ctx, func(ctx context.Context, q *guardeddb.Queries) error {
		if err := q.DeleteResult(ctx, kind, fingerprint); err != nil {
			return err
		}
		if err := q.PutResult(ctx, guardeddb.PutResultParams{Kind: kind, Fingerprint: fingerprint, Sha256: sum, Packed: packed, Data: packedData}); err != nil {
			return err
		}
		return q.KeepNewestResults(ctx, kind, newestResults)
	})
}

func (g *guardedStore) Result(ctx context.Context, right app.Right, fingerprint, kind string) ([]byte, error) {
	if !right.Granted() {
		return nil, app.ErrBlind
	}
	row, err := g.queries().ResultOf(ctx, kind, fingerprint)
	if err != nil {
		return nil, g.noResult(err)
	}
	return g.result(row.Data, row.Packed, row.Sha256)
}

func (g *guardedStore) LatestResult(ctx context.Context, right app.Right, kind string) (string, []byte, error) {
	if !right.Granted() {
		return "", nil, app.ErrBlind
	}
	row, err := g.queries().LatestResult(ctx, kind)
	if err != nil {
		return "", nil, g.noResult(err)
	}
	data, err := g.result(row.Data, row.Packed, row.Sha256)
	return row.Fingerprint, data, err
}

func (g *guardedStore) noResult(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return app.ErrNoResult
	}
	return explain(g.s.name, err)
}

// result takes a damaged result for none: it can be computed again.
func (g *guardedStore) result(data []byte, packed int64, sum []byte) ([]byte, error) {
	plain, err := unpack(data, packed, sum)
	if err != nil {
		return nil, fmt.Errorf("%w: what was kept is damaged (%w)", app.ErrNoResult, err)
	}
	return plain, nil
}

// worthPacking is from where on data are compressed.
const worthPacking = 64 << 10

func pack(data []byte) (stored []byte, packed int64, sum []byte, err error) {
	hash := sha256.Sum256(data)
	if len(data) <= worthPacking {
		return append([]byte{}, data...), 0, hash[:], nil // nil would be NULL
	}
	var small bytes.Buffer
	z := gzip.NewWriter(&small)
	if _, err := z.Write(data); err != nil {
		return nil, 0, nil, err
	}
	if err := z.Close(); err != nil {
		return nil, 0, nil, err
	}
	return small.Bytes(), 1, hash[:], nil
}

func unpack(stored []byte, packed int64, sum []byte) ([]byte, error) {
	data := stored
	if packed != 0 {
		z, err := gzip.NewReader(bytes.NewReader(stored))
		if err != nil {
			return nil, fmt.Errorf("it cannot be unpacked: %w", err)
		}
		if data, err = io.ReadAll(z); err != nil {
			return nil, fmt.Errorf("it cannot be unpacked: %w", err)
		}
	}
	if hash := sha256.Sum256(data); !bytes.Equal(hash[:], sum) {
		return nil, errors.New("it was changed: its hash is not the one that was stored")
	}
	if data == nil {
		data = []byte{}
	}
	return data, nil
}
