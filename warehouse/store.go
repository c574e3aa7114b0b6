// Package warehouse keeps a series in DuckDB: it opens and migrates the file,
// loads Arrow batches into it, and opens it for reading. It is the only writer,
// and the only place that knows DuckDB's driver.
//
// The warehouse is derived: it can be deleted and built again from the series
// folder. It computes no figures.
package warehouse

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/marcboeker/go-duckdb"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

//go:embed migrations/*.sql
var migrations embed.FS

// A Store is a series' warehouse, open for writing by one goroutine.
type Store struct {
	connector *duckdb.Connector
	db        *sql.DB
	conn      *sql.Conn
}

// Open opens the warehouse in the file name, makes it if it is not there, and
// brings it to this program's schema. Only one Store may have a file open.
func Open(ctx context.Context, name string) (*Store, error) {
	s, err := open(ctx, name)
	if err != nil {
		return nil, fmt.Errorf("warehouse: open %s: %w", name, meant(err, "written to"))
	}
	return s, nil
}

// ErrBusy means that another program has the warehouse open.
var ErrBusy = errors.New("another coldbench has the warehouse open; wait until that ends, and try again")

// meant is what an error of opening a file means, for the ways that people meet;
// the driver's own text tells of its locks and documents, not of ours. done is what
// was to be done with it.
func meant(err error, done string) error {
	switch text := err.Error(); {
	case strings.Contains(text, "not a valid DuckDB database"):
		return errors.New("this is no warehouse; a warehouse is derived: delete it and run again")
	case strings.Contains(text, "Could not set lock"):
		return ErrBusy
	case strings.Contains(text, "Permission denied"):
		return fmt.Errorf("the file, or the folder that it lies in, cannot be %s: permission denied; allow it for both, or copy the series to where you may", done)
	case strings.Contains(text, "Read-only file system"):
		return fmt.Errorf("the file cannot be %s: nothing can be written to this disk; copy the series to one that can be", done)
	}
	return err
}

// attach is the statement that makes a file the database series. Its name cannot be
// bound; one that begins like an address, as "md:x", would be taken for one.
func attach(name string) string {
	if !filepath.IsAbs(name) {
		name = "." + string(filepath.Separator) + name
	}
	return `attach '` + strings.ReplaceAll(name, `'`, `''`) + `' as series`
}

// readable is why DuckDB should not be asked to open name: it would wait, or take it for an
// address.
func readable(name string) error {
	if diag.IsPipe(os.DirFS(filepath.Dir(name)), filepath.Base(name)) {
		return errors.New("it is " + diag.Pipe)
	}
	if strings.Contains(name, "?") {
		return errors.New("DuckDB cannot keep its files below a folder with a question mark in its name: give the folder another")
	}
	return nil
}

func open(ctx context.Context, name string) (s *Store, err error) {
	s = &Store{}
	if err := readable(name); err != nil {
		return s, err
	}
	defer func() {
		if err != nil {
			s.Close()
		}
	}()
	// Not as the driver's own database: it reads % and ? in a name as those of an address.
	if s.connector, err = duckdb.NewConnector("", nil); err != nil {
		return s, err
	}
	s.db = sql.OpenDB(s.connector)
	if s.conn, err = s.db.Conn(ctx); err != nil {
		return s, err
	}
	for _, q := range []string{attach(name), `use series`} {
		if _, err := s.conn.ExecContext(ctx, q); err != nil {
			return s, err
		}
	}
	return s, s.migrate(ctx)
}

// Close closes the file. It may be called on a Store that failed to open.
func (s *Store) Close() error {
	var errs []error
	if s.conn != nil {
		errs = append(errs, s.conn.Close())
	}
	if s.db != nil {
		errs = append(errs, s.db.Close())
	}
	if s.connector != nil {
		errs = append(errs, s.connector.Close())
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("warehouse: close: %w", err)
	}
	return nil
}

// ErrNewer means that a later version of the program wrote the warehouse.
var ErrNewer = errors.New("the warehouse was written by a newer coldbench; delete it and run again, or update the program")

func (s *Store) migrate(ctx context.Context) error {
	return s.transact(ctx, func() error {
		if _, err := s.conn.ExecContext(ctx, `create table if not exists schema_version (version integer not null)`); err != nil {
			return err
		}
		var have int
		err := s.conn.QueryRowContext(ctx, `select coalesce(max(version), 0) from schema_version`).Scan(&have)
		if err != nil {
			return err
		}
		entries, err := migrations.ReadDir("migrations") // in order of their names
		if err != nil {
			return err
		}
		for _, e := range entries {
			version, err := versionOf(e)
			if err != nil {
				return err
			}
			if version <= have {
				continue
			}
			text, err := migrations.ReadFile(path.Join("migrations", e.Name()))
			if err != nil {
				return err
			}
			if _, err := s.conn.ExecContext(ctx, string(text)); err != nil {
				return fmt.Errorf("migration %s: %w", e.Name(), err)
			}
			if _, err := s.conn.ExecContext(ctx, `insert into schema_version values (?)`, version); err != nil {
				return err
			}
		}
		if newest, err := newestVersion(); err != nil {
			return err
		} else if have > newest {
			return ErrNewer
		}
		return s.addChannels(ctx)
	})
}

func versionOf(migration fs.DirEntry) (int, error) {
	number, _, _ := strings.Cut(migration.Name(), "_")
	version, err := strconv.Atoi(number)
	if err != nil {
		return 0, fmt.Errorf("migration %s has no number: %w", migration.Name(), err)
	}
	return version, nil
}

// newestVersion is the version of the warehouses that this program writes.
func newestVersion() (int, error) {
	entries, err := migrations.ReadDir("migrations")
	if err != nil {
		return 0, err
	}
	return versionOf(entries[len(entries)-1])
}

// addChannels gives the reading table a column for every channel of the
// catalogue that it does not have yet.
func (s *Store) addChannels(ctx context.Context) error {
	have, err := s.columns(ctx, "reading")
	if err != nil {
		return err
	}
	for _, c := range channel.All() {
		if have[c.Name] {
			continue
		}
		// A column's name cannot be bound; it comes from the catalogue.
		if _, err := s.conn.ExecContext(ctx, `alter table reading add column `+quote(c.Name)+` double`); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) columns(ctx context.Context, table string) (map[string]bool, error) {
	rows, err := s.conn.QueryContext(ctx, `select column_name from duckdb_columns() where table_name = ?`, table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	have := map[string]bool{}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		have[name] = true
	}
	return have, rows.Err()
}

// transact runs fn in a transaction, which is kept if fn returns nil: what is done then
// is not undone by an interrupt.
func (s *Store) transact(ctx context.Context, fn func() error) error {
	if _, err := s.conn.ExecContext(ctx, `begin transaction`); err != nil {
		return err
	}
	if err := fn(); err != nil {
		if _, rerr := s.conn.ExecContext(context.WithoutCancel(ctx), `rollback`); rerr != nil {
			return errors.Join(err, rerr)
		}
		return err
	}
	_, err := s.conn.ExecContext(context.WithoutCancel(ctx), `commit`)
	return err
}

// quote makes an SQL identifier of a name.
func quote(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
