// Package guardeddb holds the SQL of guarded.db as Go: made by sqlc from
// ../queries/guarded and ../migrations/guarded.
package guardeddb
