// Package dossier holds what is handed over of a study: figures, tables, texts
// and the files of an open data package, as values that are ready to print.
//
// It is given everything: the season, what was recorded beside it, the
// exposures and the estimates ([Input]). It reads no file, knows no clock and
// draws nothing; whoever prints a [Figure] or a [Document] decides about fonts
// and paper. The same input gives the same bytes.
//
// What was not recorded is said to be not recorded. Nothing here fills a gap.
//
// Begin with [Figures], [Report], [Methods] and [DataFiles].
package dossier
