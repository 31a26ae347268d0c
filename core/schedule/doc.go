// Package schedule draws which pair is active in which trial, with which
// current and polarity, says how well the draw is balanced and what can be
// guessed of it, and commits to it so that it can be shown later that it was not
// changed. It knows no files, no clock and no source of chance: bytes of a seed
// arrive as an argument, and who encrypts a schedule is not its business.
package schedule
