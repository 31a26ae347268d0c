package app

import (
	"context"
	"errors"

	"brinefield/core/footage"
)

// ErrNoMedia is that nothing was handed in that could look into footage.
var ErrNoMedia = errors.New("this window cannot look into footage")

// ProbeClip looks into a file of footage: when each of its frames is shown, where
// frames are missing, and the SHA-256 of its bytes.
//
// Errors: *[MediaError]; [ErrNoMedia]; those of hash and of ctx.
func ProbeClip(ctx context.Context, media Media, hash func(ctx context.Context, path string) (string, error), path string) (ProbeDocument, error) {
	if media == nil {
		return ProbeDocument{}, ErrNoMedia
	}
	p, err := media.Probe(ctx, path)
	if err != nil {
		return ProbeDocument{}, err
	}
	sum, err := hash(ctx, path)
	if err != nil {
		return ProbeDocument{}, err
	}
	notes := p.Notes
	if notes == nil {
		notes = []string{}
	}
	return ProbeDocument{
		Format: 1, Frames: len(p.PTS), WidthPx: p.WidthPx, HeightPx: p.HeightPx, Codec: p.Codec, RotationDeg: p.RotationDeg,
		TimeBase: p.TimeBase, PTS: p.PTS, Gaps: footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}.Gaps(), SHA256: sum,
		Notes: notes,
	}, nil
}

// ProxyClip makes a small copy of a file of footage, with the same frame times.
//
// Errors: those of [Media].Probe and Proxy; [ErrNoMedia].
func ProxyClip(ctx context.Context, media Media, path, out string, progress func(done float64)) error {
	if media == nil {
		return ErrNoMedia
	}
	p, err := media.Probe(ctx, path)
	if err != nil {
		return err
	}
	return media.Proxy(ctx, path, out, p, progress)
}
