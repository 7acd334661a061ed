# Everything a person runs: `make demo`, `make serve`, `make test`, `make lint`, `make bench`.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
SERVE ?= yes
PORT ?= 8753
# where the demo operation lives; the default is the platform's data directory
DATA ?=
DATA_OPTION := $(if $(DATA),--data $(DATA))
# one more than the cores of a small machine: browsers and killed programs are waited for; with four
# some waits for a browser ran out
WORKERS ?= 3
# tests of a module stay on one worker, which builds what they share once; an idle worker takes over
PYTEST = $(BIN)/pytest -n $(WORKERS) --dist worksteal
# asserts are rewritten once and kept, whatever the shell says of bytecode
unexport PYTHONDONTWRITEBYTECODE

# where `make pictures` leaves its contact sheets: outside of this folder
PICTURES ?= ../benchwalk-pictures
FEW ?=
WRITE ?=

.PHONY: demo serve test test-fast lint bench pictures lock clean
.DEFAULT_GOAL := demo

demo: $(VENV)/run.stamp
	$(BIN)/benchwalk demo $(DATA_OPTION)
ifeq ($(SERVE),yes)
	$(BIN)/benchwalk serve --demo $(DATA_OPTION) --port $(PORT)
endif

serve: $(VENV)/run.stamp
	$(BIN)/benchwalk serve $(DATA_OPTION) --port $(PORT)

# all that CI runs
test: $(VENV)/test.stamp chromium strace
	$(PYTEST)

# on SQLite, without a browser, killed processes and what takes seconds
test-fast: $(VENV)/test.stamp
	$(PYTEST) -m "not browser and not kills and not slow and not postgres"

lint: $(VENV)/test.stamp typescript
	$(BIN)/ruff format --check src tests bench
	$(BIN)/ruff check src tests bench
	$(BIN)/mypy
	$(BIN)/python -m benchwalk.reference
	$(BIN)/python tools/vendor.py --check
	$(CHECKED) --lib es2022,dom,dom.iterable $(filter-out %/sw.js,$(wildcard $(PHONE)/*.js))
	$(CHECKED) --lib es2022,webworker $(PHONE)/sw.js

# the phone's modules are checked by the types in their comments; nothing is built from them
PHONE := src/benchwalk/web/capture/static
CHECKED = tsc --noEmit --allowJs --checkJs --strict --target es2022 --module es2022 --moduleResolution node

BENCHES := help_start density_coverage change_coverage stopping_figures science_speed outbreak_speed \
  forecast_speed forecast_judged report_speed demo_build import_rows durability backups chain posts \
  export_tallies sync_posts phone_page phone_kills planted_faults week_page office_soak

# measures and prints; WRITE=yes keeps the results in bench/results and on their pages
bench: $(VENV)/test.stamp
	for program in $(BENCHES); do $(BIN)/python bench/$$program.py $(if $(WRITE),--write) || exit 1; done

# every page in every state at four widths, in both languages and on paper; FEW=yes takes a page a route
pictures: $(VENV)/test.stamp chromium poppler
	$(BIN)/python tools/pictures.py --to $(PICTURES) $(if $(FEW),--few)

lock: | $(BIN)/python
	$(BIN)/pip install --quiet pip-tools
	$(BIN)/pip-compile --quiet --generate-hashes --no-emit-index-url --no-emit-trusted-host \
	  --no-header --no-annotate --strip-extras --extra build --output-file requirements.lock pyproject.toml
	$(BIN)/pip-compile --quiet --generate-hashes --no-emit-index-url --no-emit-trusted-host \
	  --no-header --no-annotate --strip-extras --extra build --extra postgres --extra test --extra bench \
	  --output-file requirements-test.lock pyproject.toml

$(VENV)/run.stamp: requirements.lock pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/test.stamp: requirements-test.lock pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@ $(VENV)/run.stamp

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "benchwalk needs Python 3.11 or newer; $(PYTHON) is older. Give another: make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || $(MAKE) --no-print-directory debian-package NEED=python3-venv
	$(PYTHON) -m venv $(VENV)

.PHONY: chromium strace typescript poppler debian-package
chromium:
	@command -v chromium >/dev/null || $(MAKE) --no-print-directory debian-package NEED=chromium

# tests of power cuts and failing disks watch and fail system calls
strace:
	@command -v strace >/dev/null || $(MAKE) --no-print-directory debian-package NEED=strace

typescript:
	@command -v tsc >/dev/null || $(MAKE) --no-print-directory debian-package NEED=node-typescript

# draws the sheets of a PDF
poppler:
	@command -v pdftoppm >/dev/null || $(MAKE) --no-print-directory debian-package NEED=poppler-utils

# root installs what is missing from Debian's packages; anybody else is told the one line to run
debian-package:
	@if [ "$$(id -u)" = 0 ]; then \
	  export DEBIAN_FRONTEND=noninteractive; apt-get update -qq && apt-get install -y -qq $(NEED) >/dev/null; \
	else \
	  echo "Something is missing. Run this, then try again:  sudo apt-get install -y $(NEED)"; exit 1; \
	fi

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis
