-- name: Devices :many
SELECT * FROM device ORDER BY id;

-- name: DeviceOf :one
SELECT * FROM device WHERE id = ?;

-- name: PutDevice :exec
INSERT INTO device (id, position, seq, hash, last, wall_ms) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT (id) DO UPDATE SET position = excluded.position, seq = excluded.seq, hash = excluded.hash,
  last = excluded.last, wall_ms = excluded.wall_ms;

-- name: DeleteDevices :exec
DELETE FROM device;

-- name: FoldedTo :one
SELECT cast(coalesce(max(position), 0) AS INTEGER) AS position FROM device;

-- name: Here :one
SELECT device, token, place FROM here;

-- name: PutHere :exec
INSERT INTO here (one, device, token, place) VALUES (1, ?, ?, ?)
ON CONFLICT (one) DO UPDATE SET device = excluded.device, token = excluded.token, place = excluded.place;

-- name: Meta :one
SELECT value FROM meta WHERE name = ?;

-- name: PutMeta :exec
INSERT INTO meta (name, value) VALUES (?, ?)
ON CONFLICT (name) DO UPDATE SET value = excluded.value WHERE value <> excluded.value;
