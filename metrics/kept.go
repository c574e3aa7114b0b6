package metrics

import (
	"bytes"
	"compress/flate"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// logVersion is part of a log's basis. Raise it when a log is made otherwise of
// the same views.
const logVersion = "1"

// logViews are the views that logs are read from.
var logViews = []string{"minute", "phase", "trace"}

// logBasis is a hash of all that a session's log depends on.
func (c *Catalogue) logBasis(s sessionRow, params map[string]float64) string {
	parts := []string{logVersion}
	for _, name := range logViews {
		parts = append(parts, c.basis(c.views[name], s, params))
	}
	return hashOf(parts...)
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
				l, err := unpacked(k.Body)
				if err != nil {
					mu.Lock()
					errs = append(errs, fmt.Errorf("metrics: kept log of session %s: %w", k.Session, err))
					mu.Unlock()
					continue
				}
				l.Trace = l.Trace.Thin(rows)
				*place[k.Session] = l
			}
		})
	}
	err := w.KeptLogs(ctx, func(k warehouse.Log) {
		if place[k.Session] != nil && want[k.Session] == k.Basis {
			have[k.Session] = true
			queue <- k
		}
	})
	close(queue)
	wg.Wait()
	return have, errors.Join(append(errs, err)...)
}

// packed is a log as the warehouse keeps it.
func packed(l *edition.Log) ([]byte, error) {
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	if err := json.NewEncoder(z).Encode(l); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func unpacked(body []byte) (edition.Log, error) {
	var l edition.Log
	text, err := io.ReadAll(flate.NewReader(bytes.NewReader(body)))
	if err == nil {
		err = json.Unmarshal(text, &l)
	}
	return l, err
}
