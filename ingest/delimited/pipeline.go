package delimited

import (
	"errors"
	"io"
	"runtime"
	"sync"
)

// maxWorkers bounds the blocks that are parsed at a time, and so the memory: a
// disk gives no more than a few cores can parse.
const maxWorkers = 8

// A pipeline cuts text into blocks and parses them side by side, in goroutines
// of its own, and hands them out in their order.
type pipeline struct {
	cutter *cutter
	layout *layout
	free   chan *chunk // to be filled
	order  chan *chunk // as they stand in the text, parsed or about to be
	quit   chan struct{}
	all    sync.WaitGroup
}

// first cuts and parses until there is a row, without any goroutine: a log is
// opened before anybody reads it. It returns io.EOF if there is no row.
func first(k *cutter, l *layout) (*chunk, error) {
	c := &chunk{done: make(chan struct{}, 1)}
	for {
		if err := k.next(c); err != nil {
			return nil, err
		}
		if l.parse(c); len(c.rows) > 0 {
			return c, nil
		}
	}
}

// start starts the goroutines, which end with the text or by stop.
func start(k *cutter, l *layout) *pipeline {
	workers := min(runtime.GOMAXPROCS(0), maxWorkers)
	chunks := workers + 2 // one being cut, one being handed out
	p := &pipeline{cutter: k, layout: l, free: make(chan *chunk, chunks+1), order: make(chan *chunk, chunks), quit: make(chan struct{})}
	for range chunks {
		p.free <- &chunk{done: make(chan struct{}, 1)}
	}
	jobs := make(chan *chunk, chunks)
	p.all.Go(func() {
		defer close(jobs)
		defer close(p.order)
		for {
			select {
			case <-p.quit:
				return
			case c := <-p.free:
				c.err = k.next(c)
				if errors.Is(c.err, io.EOF) {
					return
				}
				p.order <- c
				if c.err != nil {
					c.done <- struct{}{}
					return
				}
				jobs <- c
			}
		}
	})
	for range workers {
		p.all.Go(func() {
			for c := range jobs {
				l.parse(c)
				c.done <- struct{}{}
			}
		})
	}
	return p
}

// next returns the next block, parsed, or io.EOF. The one before, given back as
// last, is used again.
func (p *pipeline) next(last *chunk) (*chunk, error) {
	p.free <- last
	c, ok := <-p.order
	if !ok {
		return nil, io.EOF
	}
	<-c.done
	return c, c.err
}

// stop ends the goroutines and waits for them.
func (p *pipeline) stop() {
	close(p.quit)
	p.all.Wait()
}
