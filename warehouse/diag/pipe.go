package diag

import "io/fs"

// Pipe is what messages call that which IsPipe finds.
const Pipe = "no file but a pipe, a device or the like"

// IsPipe reports whether what lies in a file's place would be waited for, maybe for
// ever, were it read.
func IsPipe(fsys fs.FS, name string) bool {
	info, err := fs.Stat(fsys, name)
	return err == nil && !info.Mode().IsRegular() && !info.IsDir()
}
