-- name: InsertEntry :exec
INSERT OR FAIL INTO entry (position, id, device, seq, kind, subject, hash, canonical)
VALUES (?, ?, ?, ?, ?, ?, ?, ?);

-- name: LastPosition :one
SELECT cast(coalesce(max(position), 0) AS INTEGER) AS position FROM entry;

-- name: EntryByID :one
SELECT canonical, hash FROM entry WHERE id = ?;

-- name: LastID :one
SELECT cast(coalesce(max(id), '') AS TEXT) AS id FROM entry;

-- name: PlaceOfID :one
SELECT device, seq FROM entry WHERE id = ?;

-- name: EntriesAbout :many
SELECT canonical, hash FROM entry WHERE kind = ? AND subject = ? ORDER BY id;

-- name: EntriesBefore :many
SELECT position, canonical, hash FROM entry WHERE position < ? ORDER BY position DESC LIMIT ?;

-- name: LastOfDevices :many
SELECT e.position, e.device, e.seq, e.hash, e.canonical
FROM (SELECT device, max(seq) AS seq FROM entry GROUP BY device) AS l
JOIN entry AS e ON e.device = l.device AND e.seq = l.seq
ORDER BY e.device;

-- name: HashOfEntry :one
SELECT hash FROM entry WHERE device = ? AND seq = ?;

-- name: EntryOfDevice :one
SELECT position, canonical, hash FROM entry WHERE device = ? AND seq = ?;

-- name: EntriesAfter :many
SELECT position, id, device, seq, kind, subject, hash, canonical FROM entry WHERE position > ? ORDER BY position LIMIT ?;

-- name: EntriesBySubject :many
SELECT position, kind, subject, hash, canonical FROM entry
WHERE (kind, subject, position) > (sqlc.arg(kind), sqlc.arg(subject), cast(sqlc.arg(position) AS INTEGER))
ORDER BY kind, subject, position LIMIT sqlc.arg(page);
