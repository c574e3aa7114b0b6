package bundle

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

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

// Seal writes into the edition's folder dir the manifest of all that is there,
// and a ZIP of it all, the manifest too, named as the edition.
func Seal(dir string, e *edition.Edition) error {
	m := Manifest{Edition: e.ID, Program: e.Program}
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return err
		}
		f, err := os.Open(name)
		if err != nil {
			return err
		}
		defer f.Close()
		sum := sha256.New()
		n, err := io.Copy(sum, f)
		if err != nil {
			return err
		}
		m.Files = append(m.Files, Entry{Path: filepath.ToSlash(rel), Bytes: n, SHA256: hex.EncodeToString(sum.Sum(nil))})
		return nil
	})
	if err != nil {
		return fmt.Errorf("bundle: manifest: %w", err)
	}
	err = create(filepath.Join(dir, ManifestFile), func(w io.Writer) error {
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return enc.Encode(m)
	})
	if err != nil {
		return fmt.Errorf("bundle: manifest: %w", err)
	}
	if err := create(filepath.Join(dir, e.ID+".zip"), func(w io.Writer) error { return pack(w, dir, m, e) }); err != nil {
		return fmt.Errorf("bundle: zip: %w", err)
	}
	return nil
}

// packed are endings of files that are compressed already.
var packed = []string{".png", ".xlsx", ".parquet"}

// pack writes the manifest's files and the manifest as a ZIP, below a folder
// named as the edition, dated as it is.
func pack(w io.Writer, dir string, m Manifest, e *edition.Edition) error {
	var members []archive.Member
	for _, f := range append([]Entry{{Path: ManifestFile}}, m.Files...) {
		members = append(members, archive.Member{Name: e.ID + "/" + f.Path, Modified: e.At.UTC(), Stored: slices.Contains(packed, filepath.Ext(f.Path)),
			Content: func() ([]byte, error) { return os.ReadFile(filepath.Join(dir, filepath.FromSlash(f.Path))) }})
	}
	return archive.Write(w, members)
}
