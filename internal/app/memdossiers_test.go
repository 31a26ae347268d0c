package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"brinefield/core/dossier"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// memDossiers keeps packages in memory.
type memDossiers struct {
	mu    sync.Mutex
	clock *storetest.Clock
	held  map[string]memDossier
	full  bool // the disc is
}

type memDossier struct {
	data    []byte
	written time.Time
	taken   bool
}

func (m *memDossiers) Put(ctx context.Context, name string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := errors.Join(write(&b), ctx.Err()); err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full {
		return app.ErrNoSpace
	}
	if _, there := m.held[name]; there {
		return fmt.Errorf("there is already %q", name)
	}
	m.held[name] = memDossier{data: b.Bytes(), written: m.clock.Now.Add(time.Duration(len(m.held)) * time.Second)}
	return nil
}

func (m *memDossiers) List(context.Context) ([]app.StoredDossier, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []app.StoredDossier
	for name, d := range m.held {
		if !d.taken {
			out = append(out, app.StoredDossier{Name: name, Bytes: int64(len(d.data)), Written: d.written})
		}
	}
	slices.SortFunc(out, func(a, b app.StoredDossier) int { return b.Written.Compare(a.Written) })
	return out, nil
}

func (m *memDossiers) Open(_ context.Context, name string) (app.StoredFile, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	d, there := m.held[name]
	if !there {
		return nil, app.ErrNoDossier
	}
	return memStored{bytes.NewReader(d.data)}, nil
}

func (m *memDossiers) Remove(_ context.Context, name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, there := m.held[name]; !there {
		return app.ErrNoDossier
	}
	delete(m.held, name)
	return nil
}

func (m *memDossiers) Take(_ context.Context, from io.Reader, most int64) (string, error) {
	data, err := io.ReadAll(io.LimitReader(from, most+1))
	if err != nil {
		return "", err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	token := fmt.Sprintf("taken-%d", len(m.held))
	m.held[token] = memDossier{data: data, taken: true}
	return token, nil
}

type memStored struct{ *bytes.Reader }

func (memStored) Close() error { return nil }

// tellingPrinter prints everything that it is given as text, so that a test can look
// for what must not be in it.
type tellingPrinter struct{}

func (tellingPrinter) Figure(f dossier.Figure, p app.FigurePrint) ([]byte, error) {
	if f.Why != "" {
		return nil, errors.New(f.Why)
	}
	return fmt.Appendf(nil, "%s %v %v", p.Format, p.Wide, f.Panels), nil
}

func (tellingPrinter) all(d dossier.Document, figures []dossier.Figure) ([]byte, error) {
	var b strings.Builder
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	err := errors.Join(encoder.Encode(d), encoder.Encode(figures))
	return []byte(b.String()), err
}

func (p tellingPrinter) printed(d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	var plain []dossier.Figure
	for _, f := range figures {
		plain = append(plain, f.Figure)
		if f.Why == "" && (len(f.SVG) == 0 || len(f.PNG) == 0) {
			return nil, fmt.Errorf("%s has no pictures", f.Name)
		}
	}
	return p.all(d, plain)
}

func (p tellingPrinter) HTML(d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	return p.printed(d, figures)
}

func (p tellingPrinter) Markdown(d dossier.Document, figures []dossier.Figure) ([]byte, error) {
	return p.all(d, figures)
}

func (p tellingPrinter) DOCX(d dossier.Document, figures []app.PrintedFigure) ([]byte, error) {
	return p.printed(d, figures)
}

func (p tellingPrinter) PDF(_ context.Context, d dossier.Document, _ []byte, figures []app.PrintedFigure) ([]byte, string, error) {
	data, err := p.printed(d, figures)
	return data, "a test", err
}

func (tellingPrinter) Browser() string { return "" }
