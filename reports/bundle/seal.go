package bundle

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"coldbench/metrics/edition"
	"coldbench/reports/archive"
)

// ManifestFile lists an edition's files with their sizes and hashes.
const ManifestFile = "manifest.json"

// A Manifest names all files of an edition.
type Manifest struct {
	Edition string  `json:"edition"`
	Program string  `json:"program"`
	Files   []Entry `json:"files"` // by path
}

// An Entry is one file of an edition.
type Entry struct {
	Path   string `json:"path"` // from the edition's folder, with slashes
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Seal writes into the edition's folder dir a ZIP of what made names, files and
// folders of it, each as soon as it is whole, and of the manifest of them all, named as
// the edition; and the manifest beside it. An error that made comes with is Seal's own.
func Seal(dir string, e *edition.Edition, made iter.Seq2[string, error]) error {
	m := Manifest{Edition: e.ID, Program: e.Program}
	if err := create(filepath.Join(dir, e.ID+".zip"), func(w io.Writer) error { return archive.Write(w, m.members(dir, e, made)) }); err != nil {
		return fmt.Errorf("bundle: zip: %w", err)
	}
	text, err := m.text()
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, ManifestFile), text, 0o644)
	}
	if err != nil {
		return fmt.Errorf("bundle: manifest: %w", err)
	}
	return nil
}

// packed are endings of files that are compressed already.
var packed = []string{".png", ".xlsx", ".parquet"}

// members are the files of what is made, and after them the manifest, which is
// filled in while they are read; below a folder named as the edition, dated as it is.
func (m *Manifest) members(dir string, e *edition.Edition, made iter.Seq2[string, error]) iter.Seq[archive.Member] {
	return func(yield func(archive.Member) bool) {
		var entries []*Entry
		var reading sync.WaitGroup
		member := func(path string, content func() ([]byte, error)) bool {
			return yield(archive.Member{Name: e.ID + "/" + path, Modified: e.At.UTC(), Stored: slices.Contains(packed, filepath.Ext(path)), Content: content})
		}
		for name, err := range made {
			var files []string
			if err == nil {
				files, err = below(dir, name)
			}
			if err != nil {
				member(name, func() ([]byte, error) { return nil, err })
				return
			}
			for _, path := range files {
				f := &Entry{Path: path}
				entries = append(entries, f)
				reading.Add(1)
				if !member(path, func() ([]byte, error) {
					defer reading.Done()
					text, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(path)))
					sum := sha256.Sum256(text)
					f.Bytes, f.SHA256 = int64(len(text)), hex.EncodeToString(sum[:])
					return text, err
				}) {
					return
				}
			}
		}
		member(ManifestFile, func() ([]byte, error) {
			reading.Wait() // all others come before this one
			for _, f := range entries {
				m.Files = append(m.Files, *f)
			}
			slices.SortFunc(m.Files, func(a, b Entry) int { return strings.Compare(a.Path, b.Path) })
			return m.text()
		})
	}
}

// below are the paths of the files of that name, or in the folder of that name.
func below(dir, name string) ([]string, error) {
	var files []string
	err := filepath.WalkDir(filepath.Join(dir, name), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		files = append(files, filepath.ToSlash(rel))
		return err
	})
	return files, err
}

func (m *Manifest) text() ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	err := enc.Encode(m)
	return b.Bytes(), err
}
