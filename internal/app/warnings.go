package app

import "slices"

// warnings gathers sentences in order, each once.
type warnings struct {
	seen []string
}

func (w *warnings) add(sentences ...string) {
	for _, s := range sentences {
		if !slices.Contains(w.seen, s) {
			w.seen = append(w.seen, s)
		}
	}
}

// list is never nil: documents have empty lists, not null.
func (w *warnings) list() []string {
	if w.seen == nil {
		return []string{}
	}
	return w.seen
}
