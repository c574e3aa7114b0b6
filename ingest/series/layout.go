package series

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"coldbench/warehouse/diag"
)

//go:embed templates
var templates embed.FS

// LayOut lays out the files of a new "series", "vehicle" or "session" at path,
// and returns those it wrote. It changes no file that is there. Its error is a
// *diag.Diagnostic where path is at fault.
func LayOut(what, path string) ([]string, error) {
	path = filepath.Clean(path)
	stem := strings.TrimSuffix(filepath.Base(path), ".toml")
	var files []struct{ name, template string }
	add := func(name, template string) {
		files = append(files, struct{ name, template string }{name, template})
	}
	switch what {
	case "series":
		add(filepath.Join(path, "series.toml"), "series.toml")
		add(filepath.Join(path, "profiles", "my-logger.toml"), "profile.toml")
	case "vehicle":
		if filepath.Ext(path) != ".toml" {
			path += ".toml"
		}
		if filepath.Base(filepath.Dir(path)) != "vehicles" {
			return nil, diag.New(diag.Pos{File: path}, "a vehicle lies in the series' folder vehicles/").WithHint("such as winter/vehicles/alder-60.toml")
		}
		add(path, "vehicle.toml")
	case "session":
		if filepath.Base(filepath.Dir(path)) != "sessions" {
			return nil, diag.New(diag.Pos{File: path}, "a session lies in the series' folder sessions/").WithHint("such as winter/sessions/2026-01-12-alder-60")
		}
		add(filepath.Join(path, "session.toml"), "session.toml")
		add(filepath.Join(path, "notes.txt"), "notes.txt")
	default:
		return nil, diag.New(diag.Pos{}, "cannot lay out %q", what).WithHint("%s", diag.OneOf(what, []string{"series", "vehicle", "session"}))
	}
	for _, f := range files {
		if _, err := os.Lstat(f.name); !errors.Is(err, fs.ErrNotExist) {
			if err != nil {
				return nil, fmt.Errorf("series: %w", err)
			}
			return nil, diag.New(diag.Pos{File: f.name}, "is there already").WithHint("choose another name; nothing was changed")
		}
	}
	var written []string
	for _, f := range files {
		text, err := templates.ReadFile("templates/" + f.template)
		if err != nil {
			return written, fmt.Errorf("series: %w", err)
		}
		out := strings.NewReplacer(`"NAME"`, fmt.Sprintf("%q", title(stem)), `"VEHICLE"`, fmt.Sprintf("%q", vehicleOf(stem)), `"ZONE"`, `"UTC"`).Replace(string(text))
		if err := os.MkdirAll(filepath.Dir(f.name), 0o755); err != nil {
			return written, fmt.Errorf("series: %w", err)
		}
		if err := os.WriteFile(f.name, []byte(out), 0o644); err != nil {
			return written, fmt.Errorf("series: %w", err)
		}
		written = append(written, f.name)
	}
	if what == "series" {
		for _, dir := range []string{"vehicles", "sessions"} {
			if err := os.MkdirAll(filepath.Join(path, dir), 0o755); err != nil {
				return written, fmt.Errorf("series: %w", err)
			}
		}
	}
	return written, nil
}

// title makes "Alder 60" of "alder-60".
func title(stem string) string {
	words := strings.FieldsFunc(stem, func(r rune) bool { return r == '-' || r == '_' || r == ' ' })
	for i, w := range words {
		words[i] = strings.ToUpper(w[:1]) + w[1:]
	}
	return strings.Join(words, " ")
}

// vehicleOf makes "alder-60" of "2026-01-12-alder-60".
func vehicleOf(stem string) string {
	if len(stem) > 11 && strings.Trim(stem[:11], "0123456789-") == "" {
		return stem[11:]
	}
	return stem
}
