-- name: InsertAssignment :exec
INSERT INTO assignment (ref, salt, body) VALUES (?, ?, ?);

-- name: AssignmentOf :one
SELECT salt, body FROM assignment WHERE ref = ?;

-- name: AllAssignments :many
SELECT ref, salt, body FROM assignment ORDER BY ref;

-- name: InsertOriginal :exec
INSERT INTO original (import, name, sha256, packed, data) VALUES (?, ?, ?, ?, ?);

-- name: OriginalsOf :many
SELECT name, sha256, packed, data FROM original WHERE import = ? ORDER BY name;

-- name: NamesOfOriginals :many
SELECT import, name FROM original ORDER BY import, name;

-- name: OriginalOf :one
SELECT sha256, packed, data FROM original WHERE import = ? AND name = ?;

-- name: PutResult :exec
INSERT INTO result (number, kind, fingerprint, sha256, packed, data)
VALUES ((SELECT coalesce(max(number), 0) + 1 FROM result), ?, ?, ?, ?, ?);

-- name: DeleteResult :exec
DELETE FROM result WHERE kind = ? AND fingerprint = ?;

-- name: KeepNewestResults :exec
DELETE FROM result WHERE result.kind = sqlc.arg(kind) AND number NOT IN
  (SELECT r.number FROM result AS r WHERE r.kind = sqlc.arg(kind) ORDER BY r.number DESC LIMIT sqlc.arg(newest));

-- name: ResultOf :one
SELECT fingerprint, sha256, packed, data FROM result WHERE kind = ? AND fingerprint = ?;

-- name: LatestResult :one
SELECT fingerprint, sha256, packed, data FROM result WHERE kind = ? ORDER BY number DESC LIMIT 1;

-- name: Meta :one
SELECT value FROM meta WHERE name = ?;

-- name: PutMeta :exec
INSERT INTO meta (name, value) VALUES (?, ?)
ON CONFLICT (name) DO UPDATE SET value = excluded.value WHERE value <> excluded.value;
