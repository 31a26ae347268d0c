package sqlite

import (
	"context"
	"database/sql"
	"errors"
)

// writer is the one connection that changes a database. It keeps its prepared
// statements, and takes one transaction after the other.
type writer struct {
	turn   chan struct{}
	closed bool // whoever has the turn may ask
	db     *sql.DB
	conn   *sql.Conn
	ready  map[string]*sql.Stmt
	then   func() // what a transaction wants done when it is on the disc
}

var errClosed = errors.New("the study is closed")

func newWriter(ctx context.Context, path string, a access) (*writer, error) {
	db, err := connect(ctx, path, a, 1)
	if err != nil {
		return nil, err
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		_ = db.Close()
		return nil, err
	}
	return &writer{turn: make(chan struct{}, 1), db: db, conn: conn, ready: map[string]*sql.Stmt{}}, nil
}

func (w *writer) close() error {
	w.turn <- struct{}{}
	defer func() { <-w.turn }()
	if w.closed {
		return nil
	}
	w.closed = true
	var errs []error
	for _, s := range w.ready {
		errs = append(errs, s.Close())
	}
	return errors.Join(append(errs, w.conn.Close(), w.db.Close())...)
}

// change runs do in one transaction, which is on the disc when change returns
// nil, and leaves no trace otherwise.
//
// The context ends the wait for a turn. A transaction that has begun runs with
// one that does not end: database/sql would roll back beneath the statements
// that still come. A long do asks ctx.Err itself.
//
// do must return at its first error: SQLite may have rolled back by then, and
// what came after would stand alone.
func (w *writer) change(ctx context.Context, do func(context.Context) error) (err error) {
	return w.within(ctx, "BEGIN IMMEDIATE", "COMMIT", do)
}

// try runs do in a transaction that is always taken back.
func (w *writer) try(ctx context.Context, do func(context.Context) error) (err error) {
	return w.within(ctx, "BEGIN", "ROLLBACK", do)
}

func (w *writer) within(ctx context.Context, begin, end string, do func(context.Context) error) (err error) {
	select {
	case w.turn <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-w.turn }()
	if w.closed {
		return errClosed
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	lasting := context.WithoutCancel(ctx)
	if _, err := w.ExecContext(lasting, begin); err != nil {
		return err
	}
	done := false
	w.then = nil
	defer func() {
		if !done {
			// Fails where SQLite has rolled back by itself, on a full disc.
			_, _ = w.ExecContext(lasting, "ROLLBACK")
		}
	}()
	if err := do(lasting); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, err := w.ExecContext(lasting, end); err != nil {
		return err
	}
	done = true
	if w.then != nil {
		w.then()
	}
	return nil
}

func (w *writer) PrepareContext(ctx context.Context, query string) (*sql.Stmt, error) {
	if s := w.ready[query]; s != nil {
		return s, nil
	}
	s, err := w.conn.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	w.ready[query] = s
	return s, nil
}

func (w *writer) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	s, err := w.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.ExecContext(ctx, args...)
}

func (w *writer) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := w.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}

func (w *writer) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	s, err := w.PrepareContext(ctx, query)
	if err != nil {
		return w.conn.QueryRowContext(ctx, query, args...) // fails in the same way, and carries the error
	}
	return s.QueryRowContext(ctx, args...)
}
