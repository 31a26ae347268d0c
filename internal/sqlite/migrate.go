package sqlite

import (
	"context"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/study/*.sql migrations/guarded/*.sql
var embedded embed.FS

// migrations are the numbered steps of the two databases.
type migrations struct{ study, guarded fs.FS }

func ownMigrations() *migrations {
	study, errStudy := fs.Sub(embedded, "migrations/study")
	guarded, errGuarded := fs.Sub(embedded, "migrations/guarded")
	if errStudy != nil || errGuarded != nil {
		panic("the migrations are not in the program")
	}
	return &migrations{study: study, guarded: guarded}
}

// newest is the version that the steps lead to.
func newest(steps fs.FS) (int64, error) {
	names, err := fs.Glob(steps, "*.sql")
	if err != nil {
		return 0, err
	}
	var last int64
	for _, name := range names {
		n, err := goose.NumericComponent(name)
		if err != nil {
			return 0, err
		}
		last = max(last, n)
	}
	return last, nil
}

// migrate takes a database to the newest version. Each step is a transaction:
// where it is killed, the database has the version before it or after it.
func migrate(ctx context.Context, path string, steps fs.FS) error {
	db, err := connect(ctx, path, writing, 1)
	if err != nil {
		return err
	}
	defer db.Close()
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, steps, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("the study could not be brought to the storage of this program: %w", err)
	}
	return db.Close()
}
