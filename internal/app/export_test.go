package app

// ReadAtOnce sets how many entries a journal may have so that its records are
// read while a page waits.
func ReadAtOnce(entries int64) (restore func()) {
	before := readAtOnce
	readAtOnce = entries
	return func() { readAtOnce = before }
}

// Solved is how often the engine was set to work for kept solutions.
func (t *Stimulus) Solved() int {
	t.kept.mu.Lock()
	defer t.kept.mu.Unlock()
	return t.kept.made
}

// Working is how many solutions are being worked out, wanted or not.
func (t *Stimulus) Working() int { return int(t.kept.working.Load()) }
