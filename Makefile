# make start   the planner with its demo, on http://127.0.0.1:8000/
# make test    everything: linters and contracts, pure, SQLite, PostgreSQL, Redis and browser tests
# make format  put the code into its agreed form
# make pdf     what makes PDF files of plan sheets, beside what the planner needs (an optional extra)
# make mutate  mutation tests of the timetable and of booking (long)
# make lock    fresh hashed requirements from pyproject.toml

PYTHON ?= python3
BIN := .venv/bin
INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r
COMPILE := $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-strip-extras --fork-strategy fewest

.PHONY: start test format pdf mutate lock
.DELETE_ON_ERROR:

start: .venv/installed
	@$(BIN)/python manage.py start $(ARGS)

test: .venv/installed-dev
	@$(BIN)/python tests/run.py $(ARGS)

format: .venv/installed-dev
	$(BIN)/ruff check --fix --quiet .
	$(BIN)/ruff format .
	$(BIN)/djlint --reformat --quiet templates

pdf: .venv/installed-pdf
	@$(BIN)/python -c 'import weasyprint' >/dev/null 2>&1 || \
		{ echo "Pango, which sets the type, is missing. On Debian: apt install libpangoft2-1.0-0" >&2; exit 1; }
	@echo "Plan sheets can be had as PDF files from the next start on."

mutate: .venv/installed-dev
	$(BIN)/mutmut run
	$(BIN)/mutmut results

lock: .venv/installed-dev
	$(COMPILE) pyproject.toml -o requirements.txt $(ARGS)
	$(COMPILE) pyproject.toml --extra pdf -c requirements.txt -o requirements-pdf.txt $(ARGS)
	$(COMPILE) pyproject.toml --extra pdf --group dev -c requirements.txt -o requirements-dev.txt $(ARGS)
	$(COMPILE) pyproject.toml --group benchmarks -c requirements-dev.txt -o requirements-benchmarks.txt $(ARGS)

.venv/installed: requirements.txt | .venv/bin/python
	@echo "Installing what the planner needs into .venv (once, about a minute)."
	@$(INSTALL) requirements.txt
	@touch $@

.venv/installed-pdf: requirements-pdf.txt | .venv/bin/python
	@echo "Installing what makes PDF files into .venv (once, about a minute)."
	@$(INSTALL) requirements-pdf.txt
	@touch $@ .venv/installed

# By uv, which takes a tenth of the time; where it finds no index, by pip, which may be set up for one of its own. Nothing
# is compiled at once, which takes as long again: what is used is compiled when it is.
.venv/installed-dev: requirements-dev.txt | .venv/bin/python
	@echo "Installing the tools for development into .venv (once, a few minutes)."
	@sed -n '/^uv==/,/[^\\]$$/p' $< >.venv/uv.txt
	@$(INSTALL) .venv/uv.txt --no-compile
	@$(BIN)/uv pip install --quiet --python $(BIN)/python --require-hashes -r $< || $(INSTALL) $< --no-compile
	@touch $@ .venv/installed

# Each missing part is one sentence that names the Debian package, not a traceback.
.venv/bin/python:
	@command -v $(PYTHON) >/dev/null || { echo "Python 3.11 or newer is missing. On Debian: apt install python3 python3-venv" >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "$$($(PYTHON) --version) is too old: 3.11 or newer is needed. On Debian 12 or later: apt install python3 python3-venv" >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || \
		{ echo "Python cannot make virtual environments here. On Debian: apt install python3-venv" >&2; exit 1; }
	@$(PYTHON) -m venv .venv
