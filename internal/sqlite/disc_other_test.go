//go:build !linux

package sqlite

import "testing"

func mountReadOnly(t *testing.T, _ string) { t.Skip("mounts are Linux's here") }

func inMemory(string) bool { return false }
