package columnar

import (
	"errors"
	"fmt"
	"strings"
	"syscall"

	"github.com/apache/arrow/go/v17/arrow/memory"
)

// guard calls fn and makes an error of a panic. The libraries that decode the
// two formats check little of what a file says of itself, and index past the end
// of a buffer where it is wrong.
func guard(fn func() error) (err error) {
	defer func() {
		switch p := recover().(type) {
		case nil:
		case error:
			err = p
		default:
			err = fmt.Errorf("%v", p)
		}
	}()
	return fn()
}

// maxMemory bounds what is allocated for one file at a time, in bytes: lengths
// come from the file, and an allocation that the machine cannot make ends the
// program.
const maxMemory = 1 << 30

var errMemory = errors.New("it takes more than 1 GiB of memory to read on")

// A bounded allocator panics with errMemory rather than hand out more than
// maxMemory. It is used by one goroutine at a time.
type bounded struct {
	memory.Allocator
	used int
}

func (b *bounded) take(n int) {
	if n < 0 || n > maxMemory-b.used {
		panic(errMemory)
	}
	b.used += n
}

func (b *bounded) Allocate(size int) []byte {
	b.take(size)
	return b.Allocator.Allocate(size)
}

func (b *bounded) Reallocate(size int, p []byte) []byte {
	b.used -= len(p)
	b.take(size)
	return b.Allocator.Reallocate(size, p)
}

func (b *bounded) Free(p []byte) {
	b.used -= len(p)
	b.Allocator.Free(p)
}

// isMachine reports whether an error is the machine's, not the file's. A file
// may have a place read that is negative, which is invalid.
func isMachine(err error) bool {
	var errno syscall.Errno
	return errors.As(err, &errno) && errno != syscall.EINVAL
}

// text is an error's text as diagnostics write it.
func text(err error) string {
	s := err.Error()
	for _, prefix := range []string{"runtime error: ", "arrow/ipc: ", "parquet: "} {
		s = strings.TrimPrefix(s, prefix)
	}
	return strings.Join(strings.Fields(strings.TrimSuffix(s, ".")), " ")
}
