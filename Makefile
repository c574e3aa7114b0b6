# coldbench: `make demo` shows what it does, `make test` proves it.

GO      ?= go
VERSION := $(shell git describe --always --dirty 2>/dev/null || echo dev)
DEMO    := build/demo
export CGO_ENABLED := 1

.PHONY: build demo test deps bench bench-ingest bench-figures bench-added fuzz lint fmt clean

build: build/coldbench

# go itself knows what is up to date.
.PHONY: build/coldbench
build/coldbench:
	$(GO) build -trimpath -ldflags '-s -w -X main.version=$(VERSION)' -o $@ ./cmd/coldbench

demo: build
	rm -rf $(DEMO)
	build/coldbench demo $(DEMO)
	@echo
	@echo "The series lies in $(DEMO), its newest edition here:"
	@ls -d $(DEMO)/editions/*/ | tail -n 1 | sed 's|$$|ranking.xlsx|'

# What tests need beside Go: a spreadsheet program, a PDF reader and a browser.
deps:
	@command -v soffice >/dev/null && command -v pdftotext >/dev/null && command -v chromium >/dev/null || \
		{ apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends libreoffice-calc-nogui poppler-utils chromium; }
	@command -v npm >/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends nodejs npm; }
	@test -d build/node/node_modules/exceljs || npm install --silent --no-audit --no-fund --prefix build/node exceljs@4.4.0

test: deps
	$(GO) test -timeout 15m ./...

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# A large log against DuckDB's own reader, in one run; not part of test.
bench-ingest:
	COLDBENCH_BENCH_MB=$${COLDBENCH_BENCH_MB:-1024} $(GO) test -run '^$$' -bench Ingest -benchtime 1x -timeout 30m -v ./warehouse

# All figures of 1,000 sessions of an hour against five of them in plain pandas, in
# one run, and how the time grows; not part of test. Python's packages are the
# system's, pyarrow (which it lacks) goes into build/.
bench-figures:
	@/usr/bin/python3 -c 'import pandas' 2>/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq python3-pandas python3-venv; }
	@test -x build/bench-python/bin/python || { /usr/bin/python3 -m venv --system-site-packages build/bench-python && build/bench-python/bin/pip install -q pyarrow==14.0.2; }
	COLDBENCH_BENCH_PYTHON=$(CURDIR)/build/bench-python/bin/python COLDBENCH_BENCH_SESSIONS=$${COLDBENCH_BENCH_SESSIONS:-1000} \
	COLDBENCH_BENCH_GROWTH=$${COLDBENCH_BENCH_GROWTH:-100,1000,10000} $(GO) test -run '^$$' -bench Figures -benchtime 1x -timeout 2h -v ./metrics

# A series of 500 sessions for the first time, with nothing changed, and with a car
# more; not part of test.
bench-added:
	COLDBENCH_BENCH_SERIES=$${COLDBENCH_BENCH_SERIES:-500} $(GO) test -run '^$$' -bench AddingACar -benchtime 1x -timeout 30m -v ./cmd/coldbench

# Every fuzz target for FUZZTIME; not part of test.
FUZZTIME ?= 5m
fuzz:
	@for pkg in $$($(GO) list ./...); do \
		for f in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
			$(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 1x $$pkg || exit 1; \
		done; \
	done

lint:
	$(GO) vet ./...
	@test -z "$$(gofmt -l .)" || { echo "not formatted:"; gofmt -l .; exit 1; }

fmt:
	gofmt -w .

clean:
	rm -rf build
