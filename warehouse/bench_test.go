package warehouse_test

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	_ "github.com/marcboeker/go-duckdb" // the yardstick: its own reader of CSV

	"coldbench/ingest"
	"coldbench/ingest/series"
	"coldbench/warehouse"
)

// benchChannels are the columns of the benchmark's log beside the time, with
// how each is written.
var benchChannels = []struct {
	name, format string
	low, high    float64
}{
	{"soc_pct", "%.0f", 5, 95}, {"soc_bms_pct", "%.2f", 5, 95}, {"range_km", "%.0f", 10, 400}, {"pack_voltage_v", "%.1f", 300, 400},
	{"pack_current_a", "%.2f", 0, 300}, {"pack_power_kw", "%.3f", 0, 120}, {"pack_temp_min_c", "%.1f", -25, 20}, {"pack_temp_max_c", "%.1f", -25, 30},
	{"pack_temp_mean_c", "%.2f", -25, 25}, {"charger_power_kw", "%.2f", 0, 150}, {"charger_voltage_v", "%.1f", 300, 400}, {"charger_current_a", "%.1f", 0, 300},
	{"heater_power_kw", "%.3f", 0, 7}, {"accessory_power_kw", "%.3f", 0, 1}, {"coolant_temp_c", "%.1f", -20, 40}, {"cabin_temp_c", "%.1f", -20, 20},
	{"ambient_car_c", "%.1f", -25, -15}, {"speed_km_h", "%.1f", 0, 120}, {"odometer_km", "%.1f", 10000, 20000},
}

// writeBenchSeries writes a series with one log of about size bytes and returns
// how many rows it has and how many of them are broken: one in ten thousand.
func writeBenchSeries(tb testing.TB, dir string, size int64) (rows, broken int64) {
	tb.Helper()
	write := func(name, text string) {
		full := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	profile := "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n"
	header := "t"
	for _, c := range benchChannels {
		profile += fmt.Sprintf("[[column]]\nname = %q\nchannel = %q\n", c.name, c.name)
		header += "," + c.name
	}
	write("series.toml", "")
	write("vehicles/car.toml", "name = \"Car\"\n")
	write("profiles/log.toml", profile)
	write("sessions/night/session.toml", "vehicle = \"car\"\nprocedure = \"cold-charge\"\nzone = \"UTC\"\nplug_in = 2026-01-12T20:00:00\n"+
		"[[source]]\nfile = \"car.csv\"\nprofile = \"log\"\nstart = 2026-01-12T20:00:00\n")
	f, err := os.Create(filepath.Join(dir, "sessions/night/car.csv"))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(w, header)
	rng := rand.New(rand.NewPCG(1, 2))
	tails := make([]string, 4096)
	for i := range tails {
		var b strings.Builder
		for _, c := range benchChannels {
			fmt.Fprintf(&b, ","+c.format, c.low+(c.high-c.low)*rng.Float64())
		}
		tails[i] = b.String()
	}
	written := int64(len(header))
	for ; written < size; rows++ {
		line := strconv.FormatFloat(float64(rows)/50, 'f', 2, 64) + tails[rng.IntN(len(tails))]
		if rows%10000 == 9999 {
			line, broken = line[:len(line)/2]+"x", broken+1
		}
		n, err := fmt.Fprintln(w, line)
		if err != nil {
			tb.Fatal(err)
		}
		written += int64(n)
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	return rows, broken
}

// peak returns the most memory, in MiB, that the process has held since reset,
// or 0 where the system does not tell.
func peak() int {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(status), "\n") {
		if kb, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			n, _ := strconv.Atoi(strings.Fields(kb)[0])
			return n / 1024
		}
	}
	return 0
}

func resetPeak() { os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) }

// BenchmarkIngest loads one log of 20 columns, one row in ten thousand broken,
// and sets it against DuckDB's own read_csv of the same file, rejects stored,
// into the same table, in one run. COLDBENCH_BENCH_MB is the log's size.
func BenchmarkIngest(b *testing.B) {
	mb := 64
	if s := os.Getenv("COLDBENCH_BENCH_MB"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			b.Fatal(err)
		}
		mb = n
	}
	dir := b.TempDir()
	rows, broken := writeBenchSeries(b, dir, int64(mb)<<20)
	log := filepath.Join(dir, "sessions/night/car.csv")
	ctx := context.Background()
	var ours, theirs time.Duration
	n := 0.0

	for b.Loop() {
		n++
		// DuckDB's own reader.
		name := filepath.Join(b.TempDir(), "own.duckdb")
		store, err := warehouse.Open(ctx, name)
		if err != nil {
			b.Fatal(err)
		}
		if err := store.Close(); err != nil {
			b.Fatal(err)
		}
		db, err := sql.Open("duckdb", name)
		if err != nil {
			b.Fatal(err)
		}
		resetPeak()
		start := time.Now()
		conn, err := db.Conn(ctx)
		if err != nil {
			b.Fatal(err)
		}
		res, err := conn.ExecContext(ctx, `
			insert into reading by name
			select 'night' as session_id, 'night/car.csv' as source_id, 0 as line, t as t_s, make_timestamp(((1768248000 + t) * 1000000)::bigint) as at, * exclude (t)
			from read_csv('`+log+`', header = true, all_varchar = false, store_rejects = true, auto_detect = true, sample_size = 2000)`)
		if err != nil {
			b.Fatal(err)
		}
		theirs += time.Since(start)
		theirPeak := peak()
		if kept, err := res.RowsAffected(); err != nil || kept != rows-broken {
			b.Errorf("read_csv loaded %d of %d rows, %d broken, %v", kept, rows, broken, err)
		}
		conn.Close()
		db.Close()

		// Ours.
		s, l, err := series.Load(dir, ingest.KindNames())
		if err != nil || l != nil {
			b.Fatal(l, err)
		}
		if store, err = warehouse.Open(ctx, filepath.Join(b.TempDir(), "ours.duckdb")); err != nil {
			b.Fatal(err)
		}
		resetPeak()
		start = time.Now()
		if _, err := ingest.Load(ctx, store, s, nil); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(start)
		ourPeak := peak()
		aside, err := store.SetAside(ctx, 1)
		if err != nil || len(aside) != 1 || aside[0].Rows != broken {
			b.Errorf("set aside %+v, broken %d, %v", aside, broken, err)
		}
		if err := store.Close(); err != nil {
			b.Fatal(err)
		}
		b.Logf("%d MB, %d rows, %d set aside: coldbench %.1f MB/s, peak %d MiB; read_csv %.1f MB/s, peak %d MiB",
			mb, rows, broken, float64(mb)*n/ours.Seconds(), ourPeak, float64(mb)*n/theirs.Seconds(), theirPeak)
	}
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "throughput-ratio")
}
