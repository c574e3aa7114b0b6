package metrics_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"coldbench/ingest/series"
	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/warehouse"
	"coldbench/warehouse/channel"
)

// benchChannels are what each session of the benchmark logs, a row a second.
var benchChannels = []string{"pack_voltage_v", "pack_current_a", "charger_power_kw", "heater_power_kw", "soc_pct", "pack_temp_min_c", "pack_temp_max_c", "ambient_car_c"}

const benchSeconds = 3600

// benchRow is second t of session i: heated until its onset, then 60 kW, falling
// from half of the charge on.
func benchRow(i, t int) (values [8]float64) {
	onset := 900 + i*37%600
	volts := 350 + float64((i*7+t*13)%50)/10
	noise := float64((i*31+t*17)%100)/1000 - 0.05
	minC := -20 + 15*math.Min(1, float64(t)/float64(onset))
	heater, kw, soc := 6.0, 0.0, 8.0
	if t >= onset {
		s := float64(t - onset)
		soc = 8 + s/2100*80
		heater, kw = 0, 60-math.Max(0, soc-50)*0.9
	}
	return [8]float64{volts, kw * (1 + noise) * 1000 / volts, kw + heater + 0.4 + noise, heater, math.Floor(math.Min(100, soc)), math.Floor(minC), math.Floor(minC + 3), -20}
}

// writeBench writes n sessions into a warehouse, and their rows as one Parquet
// file if name is not empty.
func writeBench(tb testing.TB, store *warehouse.Store, n int, name string) {
	tb.Helper()
	ctx := context.Background()
	var params []warehouse.Parameter
	s := tb.TempDir()
	if err := os.WriteFile(filepath.Join(s, "series.toml"), nil, 0o644); err != nil {
		tb.Fatal(err)
	}
	loaded, _, err := series.Load(s, nil)
	if err != nil {
		tb.Fatal(err)
	}
	for _, p := range loaded.Protocol.Parameters() {
		params = append(params, warehouse.Parameter(p))
	}
	if err := store.PutSeries(ctx, "Bench", "Nowhere", params, []warehouse.Vehicle{{ID: "car", Name: "Car", UsableKWh: 60}}); err != nil {
		tb.Fatal(err)
	}
	var channels []channel.Channel
	flat := []arrow.Field{{Name: "session_id", Type: arrow.BinaryTypes.String}, {Name: "t_s", Type: arrow.PrimitiveTypes.Float64}}
	for _, name := range benchChannels {
		c, err := channel.Find(name)
		if err != nil {
			tb.Fatal(err)
		}
		channels = append(channels, c)
		flat = append(flat, arrow.Field{Name: name, Type: arrow.PrimitiveTypes.Float64})
	}
	var out *pqarrow.FileWriter
	if name != "" {
		f, err := os.Create(name)
		if err != nil {
			tb.Fatal(err)
		}
		out, err = pqarrow.NewFileWriter(arrow.NewSchema(flat, nil), f, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy)), pqarrow.DefaultWriterProps())
		if err != nil {
			tb.Fatal(err)
		}
		defer out.Close()
	}
	zero := time.Date(2026, 1, 12, 20, 0, 0, 0, time.UTC)
	for i := range n {
		id := fmt.Sprintf("night-%05d", i)
		b := array.NewRecordBuilder(memory.DefaultAllocator, channel.Schema(channels))
		p := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(flat, nil))
		for t := range benchSeconds {
			b.Field(0).(*array.Int64Builder).Append(int64(t + 2))
			b.Field(1).(*array.TimestampBuilder).Append(arrow.Timestamp(zero.Add(time.Duration(t) * time.Second).UnixMicro()))
			if out != nil {
				p.Field(0).(*array.StringBuilder).Append(id)
				p.Field(1).(*array.Float64Builder).Append(float64(t))
			}
			for c, v := range benchRow(i, t) {
				b.Field(2 + c).(*array.Float64Builder).Append(v)
				if out != nil {
					p.Field(2 + c).(*array.Float64Builder).Append(v)
				}
			}
		}
		rec, flatRec := b.NewRecord(), p.NewRecord()
		rdr, err := array.NewRecordReader(rec.Schema(), []arrow.Record{rec})
		if err != nil {
			tb.Fatal(err)
		}
		err = store.LoadSession(ctx, id, func(l *warehouse.Load) error {
			src := warehouse.Source{ID: id + "/car.csv", SessionID: id, Path: "sessions/" + id + "/car.csv", Kind: "delimited", SHA256: id}
			if _, err := l.Readings(ctx, src.ID, rdr, zero); err != nil {
				return err
			}
			if err := l.Source(ctx, src, &warehouse.Report{RowsRead: benchSeconds, RowsKept: benchSeconds}); err != nil {
				return err
			}
			return l.Session(ctx, warehouse.Session{ID: id, VehicleID: "car", Procedure: "cold-charge", Zero: zero, ZeroFrom: "bench"})
		})
		if err == nil && out != nil {
			err = out.WriteBuffered(flatRec)
		}
		if err != nil {
			tb.Fatal(err)
		}
		rdr.Release()
		rec.Release()
		flatRec.Release()
		b.Release()
		p.Release()
	}
}

// peakMiB is the peak of the process's memory since it was last reset, in MiB,
// and resets it. Linux only; elsewhere it is 0.
func peakMiB() float64 {
	text, _ := os.ReadFile("/proc/self/status")
	os.WriteFile("/proc/self/clear_refs", []byte("5"), 0)
	_, after, _ := strings.Cut(string(text), "VmHWM:")
	fields := strings.Fields(after)
	if len(fields) == 0 {
		return 0
	}
	kib, _ := strconv.ParseFloat(fields[0], 64)
	return kib / 1024
}

func runBench(tb testing.TB, n int, parquetName string) (*edition.Edition, time.Duration) {
	tb.Helper()
	ctx := context.Background()
	name := filepath.Join(tb.TempDir(), "series.duckdb")
	store, err := warehouse.Open(ctx, name)
	if err != nil {
		tb.Fatal(err)
	}
	writeBench(tb, store, n, parquetName)
	if err := store.Close(); err != nil {
		tb.Fatal(err)
	}
	cat, l, err := metrics.Load("")
	if err != nil || l != nil {
		tb.Fatal(l, err)
	}
	defer debug.SetGCPercent(debug.SetGCPercent(200)) // as the program does
	debug.FreeOSMemory()                              // what writing the sessions left is not the figures' to sweep
	peakMiB()
	began := time.Now()
	w, err := warehouse.OpenWorkspace(ctx, name, warehouse.Limits{})
	if err != nil {
		tb.Fatal(err)
	}
	defer w.Close()
	e, l, err := cat.Run(ctx, w, metrics.Settings{})
	if err != nil || l != nil {
		tb.Fatal(l, err)
	}
	return e, time.Since(began)
}

// BenchmarkFigures computes every figure of COLDBENCH_BENCH_SESSIONS sessions of
// an hour (default 100), and, where COLDBENCH_BENCH_PYTHON names a Python with
// pandas and pyarrow, five of them with a plain pandas script on the same rows in
// Parquet; the values must agree. COLDBENCH_BENCH_GROWTH, such as
// "100,1000,10000", then tells how the time grows.
func BenchmarkFigures(b *testing.B) {
	n := 100
	if v, err := strconv.Atoi(os.Getenv("COLDBENCH_BENCH_SESSIONS")); err == nil {
		n = v
	}
	python, parquetName := os.Getenv("COLDBENCH_BENCH_PYTHON"), ""
	if python != "" {
		parquetName = filepath.Join(b.TempDir(), "readings.parquet")
	}
	for b.Loop() {
		e, took := runBench(b, n, parquetName)
		figures := map[string]bool{}
		sums := map[string]float64{}
		for _, f := range e.Results {
			figures[f.Figure] = true
			if f.Ranked() {
				sums[f.Figure] += *f.Value
			}
		}
		b.Logf("%d figures of %d sessions, %d rows: %.2f s, peak %.0f MiB", len(figures), n, n*benchSeconds, took.Seconds(), peakMiB())
		b.ReportMetric(took.Seconds(), "s/run")
		if python == "" {
			continue
		}
		out, err := exec.Command(python, "../testdata/bench/figures.py", parquetName).Output()
		if err != nil {
			b.Fatal(err)
		}
		var yard map[string]float64
		if err := json.Unmarshal(out, &yard); err != nil {
			b.Fatal(err, string(out))
		}
		for _, f := range []string{"delay_to_onset", "energy_into_pack", "energy_before_onset", "time_10_80", "peak_power"} {
			if d := math.Abs(sums[f] - yard[f]); d > 1e-6*math.Abs(yard[f]) {
				b.Errorf("%s: the sum is %v, with pandas %v", f, sums[f], yard[f])
			}
		}
		b.Logf("pandas, 5 of the figures: %.2f s, peak %.0f MiB; all figures took %.2f of its time", yard["seconds"], yard["peak_mib"], took.Seconds()/yard["seconds"])
	}
	for _, size := range strings.Split(os.Getenv("COLDBENCH_BENCH_GROWTH"), ",") {
		if size, err := strconv.Atoi(size); err == nil {
			_, took := runBench(b, size, "")
			b.Logf("%6d sessions: %8.2f s, %.2f ms a session, peak %.0f MiB", size, took.Seconds(), took.Seconds()*1000/float64(size), peakMiB())
		}
	}
}
