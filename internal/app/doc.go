// Package app is the tasks of the user: make, edit, open, check and export a
// study; read a season, analyse it, estimate from a table, ask for a field or
// the water's conductivity, show a season.
// One file a task; the file's first function is what to call.
//
// It joins the rooms of core and makes the documents that every screen,
// command and report prints ([Findings] is the chief one). It knows no files,
// no network and no database: it is handed bytes, and returns values. Here the
// SI units of core become the units of the trade, and the other way round.
package app
