-- The records made again from the journal, to be compared with those that are
-- there. A temporary table: it is no part of the study.
CREATE TEMP TABLE record_again (
  rank INTEGER NOT NULL PRIMARY KEY,
  kind TEXT NOT NULL,
  id TEXT NOT NULL,
  first TEXT NOT NULL,
  last TEXT NOT NULL,
  entries INTEGER NOT NULL,
  removed INTEGER NOT NULL,
  body TEXT NOT NULL
) STRICT;
