-- name: RecordOf :one
SELECT * FROM record WHERE kind = ? AND id = ?;

-- name: RecordsOfKind :many
SELECT * FROM record WHERE kind = ? AND removed = 0;

-- name: RecordsOfAll :many
SELECT * FROM record WHERE removed = 0 ORDER BY rank;

-- name: InsertRecord :exec
INSERT INTO record (rank, kind, id, first, last, entries, removed, body)
VALUES (?, ?, ?, ?, ?, ?, ?, ?);

-- name: UpdateRecord :exec
UPDATE record SET first = ?, last = ?, entries = ?, removed = ?, body = ? WHERE rank = ?;

-- name: DeleteRecords :exec
DELETE FROM record;

-- name: TakeRecordsMadeAgain :exec
INSERT INTO record (rank, kind, id, first, last, entries, removed, body)
SELECT rank, kind, id, first, last, entries, removed, body FROM record_again ORDER BY rank;

-- name: InsertRecordAgain :exec
INSERT INTO record_again (rank, kind, id, first, last, entries, removed, body)
VALUES (?, ?, ?, ?, ?, ?, ?, ?);

-- name: RecordsMissingOrDifferent :one
SELECT count(*) FROM record_again AS a LEFT JOIN record AS r ON r.rank = a.rank
WHERE r.rank IS NULL OR r.kind <> a.kind OR r.id <> a.id OR r.first <> a.first OR r.last <> a.last
  OR r.entries <> a.entries OR r.removed <> a.removed OR r.body <> a.body;

-- name: RecordsTooMany :one
SELECT count(*) FROM record AS r LEFT JOIN record_again AS a ON a.rank = r.rank WHERE a.rank IS NULL;

-- name: CountRecords :many
SELECT kind, count(*) AS records FROM record GROUP BY kind ORDER BY kind;

-- name: CountRemoved :many
SELECT kind, count(*) AS records FROM record WHERE removed = 1 GROUP BY kind ORDER BY kind;
