package metrics

import (
	"bytes"
	"compress/flate"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// logVersion is part of a log's basis. Raise it when a log is made, or written,
// otherwise of the same views.
const logVersion = "1"

// logViews are the views that logs are read from.
var logViews = []string{"minute", "phase", "trace"}

// logBasis returns what makes, of a session, the hash of all that its log depends on.
func (c *Catalogue) logBasis(params map[string]float64) func(sessionRow) string {
	var bases []func(sessionRow) string
	for _, name := range logViews {
		bases = append(bases, c.basis(c.views[name], params))
	}
	return func(s sessionRow) string {
		parts := []string{logVersion}
		for _, basis := range bases {
			parts = append(parts, basis(s))
		}
		return hashOf(parts...)
	}
}

// kept puts the logs that the warehouse keeps into place, thinned to rows rows,
// where their basis is still the one in want. It returns the sessions whose logs
// it has.
func kept(ctx context.Context, w *warehouse.Workspace, want map[string]string, place map[string]*edition.Log, rows int) (map[string]bool, error) {
	have := map[string]bool{}
	queue := make(chan warehouse.Log, 16)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var errs []error
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for k := range queue {
				l, err := unpacked(k, rows)
				if err != nil {
					mu.Lock()
					errs = append(errs, fmt.Errorf("metrics: kept log of session %s: %w", k.Session, err))
					mu.Unlock()
					continue
				}
				*place[k.Session] = l
			}
		})
	}
	err := w.KeptLogs(ctx, rows == traceRowsLeast, func(k warehouse.Log) {
		if place[k.Session] != nil && want[k.Session] == k.Basis {
			have[k.Session] = true
			queue <- k
		}
	})
	close(queue)
	wg.Wait()
	return have, errors.Join(append(errs, err)...)
}

// packed is a log as the warehouse keeps it, but for its basis. The fewest rows are
// what a series of many sessions shows: they need not be found again then, nor
// written out.
func packed(l *edition.Log) (warehouse.Log, error) {
	k := warehouse.Log{Session: l.Session}
	least, err := l.Thin(traceRowsLeast).Line()
	if err != nil {
		return k, err
	}
	whole, err := l.Line()
	if err != nil {
		return k, err
	}
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return k, err
	}
	if _, err := z.Write(whole); err != nil {
		return k, err
	}
	if err := z.Close(); err != nil {
		return k, err
	}
	k.Body, k.Least = b.Bytes(), least
	return k, nil
}

// unpacked is a kept log, which has its Body or its Least, thinned to rows rows.
func unpacked(k warehouse.Log, rows int) (edition.Log, error) {
	if k.Least != nil {
		return edition.ParseLog(k.Least)
	}
	text, err := io.ReadAll(flate.NewReader(bytes.NewReader(k.Body)))
	if err != nil {
		return edition.Log{}, err
	}
	l, err := edition.ParseLog(text)
	return l.Thin(rows), err
}
