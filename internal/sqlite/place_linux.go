package sqlite

import "syscall"

func changed(s *syscall.Stat_t) *syscall.Timespec { return &s.Ctim }
