-- +goose Up

CREATE TABLE meta (
  name TEXT NOT NULL PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Which pair was active: ref is the SHA-256 of salt and body.
CREATE TABLE assignment (
  ref TEXT NOT NULL PRIMARY KEY,
  salt BLOB NOT NULL CHECK (length(salt) = 32),
  body BLOB NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER assignment_not_changed BEFORE UPDATE ON assignment
BEGIN
  SELECT raise(ABORT, 'assignments are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER assignment_not_deleted BEFORE DELETE ON assignment
BEGIN
  SELECT raise(ABORT, 'assignments are never deleted');
END;
-- +goose StatementEnd

-- The files of each import, byte for byte.
CREATE TABLE original (
  import TEXT NOT NULL,
  name TEXT NOT NULL,
  sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
  packed INTEGER NOT NULL,
  data BLOB NOT NULL,
  PRIMARY KEY (import, name)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER original_not_changed BEFORE UPDATE ON original
BEGIN
  SELECT raise(ABORT, 'the files of an import are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER original_not_deleted BEFORE DELETE ON original
BEGIN
  SELECT raise(ABORT, 'the files of an import are never deleted');
END;
-- +goose StatementEnd

-- Results that tell roles; can be computed again.
CREATE TABLE result (
  number INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  fingerprint TEXT NOT NULL,
  sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
  packed INTEGER NOT NULL,
  data BLOB NOT NULL,
  UNIQUE (kind, fingerprint)
) STRICT;
