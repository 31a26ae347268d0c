// Package sqlite keeps a study in two SQLite databases in one folder: study.db
// holds the journal and the records that are derived from it, guarded.db what
// tells which pair was active. Neither can reach the other.
//
// [Create] makes a new study in a folder, [Open] opens one and looks for
// damage, [Copy] writes a consistent copy. The stores keep the promises of
// app.JournalStore and app.GuardedStore; internal/storetest tests them.
//
// One window at a time may write: the caller holds a lock on the folder.
package sqlite
