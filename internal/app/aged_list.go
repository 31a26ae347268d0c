package app

import (
	"sync"
	"time"
)

// cardAge is how long what was found of a study that is not open in this window is
// shown before it is looked at again.
const cardAge = 30 * time.Second

// agedList keeps for a moment what was found of studies that are not open in this
// window, by the names of their folders.
type agedList[T any] struct {
	mu   sync.Mutex
	kept map[string]aged[T]
}

type aged[T any] struct {
	what T
	made time.Time
}

func (l *agedList[T]) get(folder string, now time.Time) (T, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	k, ok := l.kept[folder]
	age := now.Sub(k.made)
	return k.what, ok && age >= 0 && age < cardAge
}

func (l *agedList[T]) put(folder string, what T, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.kept == nil {
		l.kept = map[string]aged[T]{}
	}
	l.kept[folder] = aged[T]{what, now}
}

func (l *agedList[T]) drop(folder string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.kept, folder)
}
