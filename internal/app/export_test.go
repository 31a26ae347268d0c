package app

// ReadAtOnce sets how many entries a journal may have so that its records are
// read while a page waits.
func ReadAtOnce(entries int64) (restore func()) {
	before := readAtOnce
	readAtOnce = entries
	return func() { readAtOnce = before }
}
