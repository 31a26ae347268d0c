package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"

	"brinefield/internal/app"
)

// explain turns what SQLite and the system say into what a user can act on.
// The cause stays in the chain.
func explain(study string, err error) error {
	var damaged *app.DamagedError
	if err == nil || errors.As(err, &damaged) || errors.Is(err, app.ErrNoSpace) || errors.Is(err, app.ErrReadOnly) {
		return err
	}
	if errors.Is(err, syscall.ENOSPC) {
		return fmt.Errorf("%w (%w)", app.ErrNoSpace, err)
	}
	if errors.Is(err, syscall.EROFS) || errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%w (%w)", app.ErrReadOnly, err)
	}
	var answer *sqlite.Error
	if !errors.As(err, &answer) {
		return err
	}
	switch code := answer.Code(); {
	// Of the shared memory beside the database, SQLite says only that it could
	// not be made larger, which is what a full disc does.
	case code&0xff == lib.SQLITE_FULL || code == lib.SQLITE_IOERR_SHMSIZE:
		return fmt.Errorf("%w (%w)", app.ErrNoSpace, err)
	case code&0xff == lib.SQLITE_READONLY:
		return fmt.Errorf("%w (%w)", app.ErrReadOnly, err)
	case code&0xff == lib.SQLITE_CORRUPT, code&0xff == lib.SQLITE_NOTADB:
		return &app.DamagedError{Study: study, What: []string{"its database cannot be read: " + answer.Error()}}
	}
	return err
}

// answers reports whether SQLite gave this answer.
func answers(err error, code int) bool {
	var answer *sqlite.Error
	return errors.As(err, &answer) && answer.Code()&0xff == code
}
