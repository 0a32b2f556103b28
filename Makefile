# Two commands are enough: `make demo` and `make test`. Each makes its own environment first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
# Most tests wait more than they compute. Browsers beside each other would keep each other waiting.
WORKERS ?= $(shell expr $$(getconf _NPROCESSORS_ONLN) + 1)
TIMED := "browser or alone"

.PHONY: demo test check bench harm format clean bundle pictures look

demo: $(READY)
	$(BIN)/leadline demo

test: $(READY) check
	@sh .ci/browser
	@sh .ci/optional strace strace "syncs are not counted"
	@sh .ci/optional nginx nginx "Leadline behind a proxy is not tried"
	@sh .ci/postgres
	$(BIN)/python -m pytest -m "not browser and not alone" --numprocesses $(WORKERS) --dist loadfile
	$(BIN)/python -m pytest -m $(TIMED) || { \
	  echo "Those that failed, once more: on a loaded machine a browser may be late. What fails twice has failed."; \
	  $(BIN)/python -m pytest -m $(TIMED) --last-failed --last-failed-no-failures none; }

check: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m app.store.migrate check

bench: $(READY)
	@sh .ci/browser
	$(BIN)/python -m tests.bench

# One archive in dist/ that installs without a network.
bundle: $(READY)
	$(BIN)/python .ci/bundle/make.py

# The pictures of the help, from the sample. A test says when they are no longer what the tool looks like.
pictures: $(READY)
	@sh .ci/browser
	$(BIN)/python -m tests.browser.pictures

# Screenshots of every page, to be looked at: in dist/look, or where LOOK says.
LOOK ?= dist/look
look: $(READY)
	@sh .ci/browser
	$(BIN)/python -m tests.browser.looks --out $(LOOK)

harm: $(READY)
	@sh .ci/optional strace strace "syncs are not counted"
	$(BIN)/python -m tests.harm

format: $(READY)
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

# The environment: made anew when what it is made from changes. The versions are those that CI tested.
$(READY): pyproject.toml .ci/constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Leadline needs Python 3.11 or newer; say which: make PYTHON=python3.12"; exit 1; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint .ci/constraints.txt --editable ".[dev]"
	$(BIN)/python -m compileall -q app
	@touch $@

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache dist
