package app

import (
	"context"
	"time"
)

// ImportFootage is [Study.FootageImport] for somebody who waits: it comes back when
// the clip stands in the study. Small copies that a browser needs are made when the
// page Footage is opened.
func (s *Study) ImportFootage(ctx context.Context, in FootageImportRequest, progress func(stage string, done float64)) (FootageClip, error) {
	j, err := s.newImport(ctx, in)
	if err != nil {
		return FootageClip{}, err
	}
	told := make(chan struct{})
	over := make(chan struct{})
	go func() {
		defer close(told)
		s.tellOf(j, progress, over)
	}()
	err = s.do(ctx, j)
	close(over)
	<-told
	if err != nil {
		return FootageClip{}, err
	}
	clips, err := s.footageClips(ctx)
	for _, c := range clips {
		if c.Clip == j.Clip {
			return c, err
		}
	}
	return FootageClip{}, err
}

// tellOf passes on how far a job is until it is over.
func (s *Study) tellOf(j *footageJob, progress func(stage string, done float64), over <-chan struct{}) {
	if progress == nil {
		return
	}
	ticker := time.NewTicker(100 * time.Millisecond)
	defer ticker.Stop()
	for {
		select {
		case <-over:
			return
		case <-ticker.C:
			s.footage.work.mu.Lock()
			stage, done := j.stage, j.done
			s.footage.work.mu.Unlock()
			progress(stage, done)
		}
	}
}

// FootageListing is a clip with where its files are on this machine.
type FootageListing struct {
	FootageClip
	Paths []string `json:"paths" doc:"Of the chapters; empty where a file is not known here."`
}

// FootageList lists the clips of a study.
func (s *Study) FootageList(ctx context.Context) ([]FootageListing, error) {
	clips, err := s.clipViews(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]FootageListing, len(clips))
	for i, c := range clips {
		out[i] = FootageListing{FootageClip: c, Paths: make([]string, len(c.Chapters))}
		for k, ch := range c.Chapters {
			out[i].Paths[k], _ = s.placeOf(ch.SHA256)
		}
	}
	return out, nil
}
