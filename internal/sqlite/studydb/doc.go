// Package studydb holds the SQL of study.db as Go: made by sqlc from
// ../queries/study and ../migrations/study.
package studydb
