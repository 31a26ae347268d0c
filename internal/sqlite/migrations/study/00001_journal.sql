-- +goose Up

-- What the database is: which study, and the program that wrote it last.
CREATE TABLE meta (
  name TEXT NOT NULL PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The journal. Everything else in this file can be made from it again.
-- position counts from 1 without gaps in the order of arrival.
CREATE TABLE entry (
  position INTEGER NOT NULL PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  device TEXT NOT NULL,
  seq INTEGER NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  hash BLOB NOT NULL CHECK (length(hash) = 32),
  canonical BLOB NOT NULL,
  UNIQUE (device, seq)
) STRICT;

CREATE INDEX entry_by_subject ON entry (kind, subject);

-- FAIL, and OR FAIL where entries are inserted: with ABORT every insert would
-- keep a journal of its own, to be taken back alone.
-- +goose StatementBegin
CREATE TRIGGER entry_without_gaps BEFORE INSERT ON entry
WHEN new.position <> coalesce((SELECT max(position) FROM entry), 0) + 1
BEGIN
  SELECT raise(FAIL, 'the journal has no gaps');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER entry_not_changed BEFORE UPDATE ON entry
BEGIN
  SELECT raise(ABORT, 'entries of the journal are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER entry_not_deleted BEFORE DELETE ON entry
BEGIN
  SELECT raise(ABORT, 'entries of the journal are never deleted');
END;
-- +goose StatementEnd

-- Derived: each record as its entries leave it. rank is the position of its
-- first entry: the order of appearance.
CREATE TABLE record (
  rank INTEGER NOT NULL PRIMARY KEY,
  kind TEXT NOT NULL,
  id TEXT NOT NULL,
  first TEXT NOT NULL,
  last TEXT NOT NULL,
  entries INTEGER NOT NULL,
  removed INTEGER NOT NULL,
  body TEXT NOT NULL,
  UNIQUE (kind, id)
) STRICT;

-- Few records are removed: to count those that stand, all are counted by the
-- index of their names and these are taken off.
CREATE INDEX record_removed ON record (kind) WHERE removed = 1;

-- Derived: the end of each device's chain. position is that of its last entry;
-- the greatest one is how far the records have been folded.
CREATE TABLE device (
  id TEXT NOT NULL PRIMARY KEY,
  position INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  hash BLOB NOT NULL,
  last TEXT NOT NULL,
  wall_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Which device this copy of the study writes as; see device.go.
CREATE TABLE here (
  one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
  device TEXT NOT NULL,
  token TEXT NOT NULL,
  place TEXT NOT NULL
) STRICT;
