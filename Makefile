# Hidewright: `make demo` shows it, `make test` tests it, `make help` lists the rest.
# Needs Python 3.11 to 3.13. Nothing is installed outside .venv, but for what `make test` asks of the system.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.ONESHELL:
.DELETE_ON_ERROR:
.DEFAULT_GOAL := help
MAKEFLAGS += --no-print-directory

# Compiled modules are kept: otherwise each of the tests' processes compiles all code and rewrites all asserts anew.
export PYTHONDONTWRITEBYTECODE :=

ARGS ?=
PYTEST_ARGS ?=
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
RUN_READY := $(VENV)/.ready-to-run
TEST_READY := $(VENV)/.ready-to-test
INSTALLED := $(VENV)/.installed
LOCK := $(BIN)/uv pip compile pyproject.toml --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
	--no-emit-find-links --quiet --custom-compile-command "make lock"

.PHONY: help demo serve test test-stages test-pages test-postgres test-browser check hunt format bench shots pictures lock \
	migrations clean system setup setup-test

help: ## List what can be made.
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## /  make \1\t/' | expand -t 22

# --- Set-up ----------------------------------------------------------------------------------------------------------

$(BIN)/python:
	@for try in python3 python3.13 python3.12 python3.11; do
		if "$$try" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null; then
			found="$$try"; break
		fi
	done
	if [ -z "$${found:-}" ]; then
		echo "Hidewright needs Python 3.11, 3.12 or 3.13; this machine has $$(python3 --version 2>&1 || echo none)." >&2
		echo "Install one of them (on Debian and Ubuntu: apt-get install python3.11 python3.11-venv) and try again." >&2
		exit 1
	fi
	echo "Setting up with $$("$$found" --version) in $(VENV)"
	if ! "$$found" -m venv $(VENV); then
		rm -rf $(VENV)
		echo "Python's venv module is missing; on Debian and Ubuntu: apt-get install python3-venv" >&2
		exit 1
	fi

$(RUN_READY): requirements/run.txt | $(BIN)/python
	@if ! [ $(TEST_READY) -nt $< ]; then
		echo "Installing what the app stands on (once; a few minutes)"
		$(PIP) install --require-hashes -r requirements/run.txt
	fi
	touch $@

$(TEST_READY): requirements/test.txt | $(BIN)/python
	@echo "Installing what the app and its tests stand on (once; a few minutes)"
	$(PIP) install --require-hashes -r requirements/test.txt
	touch $@ $(RUN_READY)

$(INSTALLED): pyproject.toml
	@$(PIP) install --no-deps --no-build-isolation --editable .
	touch $@

setup: $(RUN_READY) ## Set up what the app needs.
	@$(MAKE) --silent $(INSTALLED)

setup-test: $(TEST_READY) ## Set up what the app and its tests need.
	@$(MAKE) --silent $(INSTALLED)

system: ## Look for Chromium and PostgreSQL; install them where that is allowed.
	@tests/system.sh

# --- Use -------------------------------------------------------------------------------------------------------------

demo: setup ## Do the whole job on the demonstration files and serve it; ARGS=--no-serve stops after the summary.
	@$(BIN)/hidewright demo $(ARGS)

serve: setup ## Serve the app with the shop's own jobs; ARGS as for `hidewright serve`.
	@$(BIN)/hidewright serve $(ARGS)

# --- Tests -----------------------------------------------------------------------------------------------------------

test: setup-test system ## Run all tests: stages, pages on SQLite and PostgreSQL, browser.
	@$(MAKE) --keep-going test-stages test-pages test-postgres test-browser

# As many tests side by side as there are cores.
ALONGSIDE := --numprocesses=auto --dist=worksteal

test-stages: setup-test ## Run the tests that need no database.
	@echo "== Stages, published values and the house's rules"
	$(BIN)/pytest tests --ignore=tests/workshop --ignore=tests/browser $(ALONGSIDE) $(PYTEST_ARGS)

test-pages: setup-test ## Run the page tests on SQLite.
	@echo "== Pages on SQLite"
	$(BIN)/pytest tests/workshop $(ALONGSIDE) $(PYTEST_ARGS)

test-postgres: setup-test ## Run the page tests on a PostgreSQL of their own.
	@echo "== Pages on PostgreSQL"
	$(BIN)/python tests/postgres.py $(BIN)/pytest tests/workshop $(ALONGSIDE) $(PYTEST_ARGS)

test-browser: setup-test ## Run the tests in a real Chromium.
	@echo "== In a real Chromium"
	$(BIN)/pytest tests/browser $(ALONGSIDE) $(PYTEST_ARGS)

HUNTS ?= 5
MUTANTS ?= 25
# A hunt for faults that is broken off goes on when it is called again on the same day.
SEED ?= $(shell date +%Y%m%d)
hunt: setup-test ## Look for counter-examples with new draws, HUNTS=5 times, then for faults that no test notices, MUTANTS=25 a part.
	@for number in $$(seq $(HUNTS)); do
		echo "== Hunt $$number of $(HUNTS)"
		HIDEWRIGHT_HUNT=1 nice -n 10 $(BIN)/pytest tests -m hypothesis $(PYTEST_ARGS)
	done
	echo "== Faults put in, one at a time"
	nice -n 10 $(BIN)/python tests/mutants/hunt.py --sample $(MUTANTS) --seed $(SEED) $(ARGS)

# Set where the tests of the house run anyway, as in .ci/run.
HOUSE ?=

check: setup-test ## Check form, types, import rules, migrations and documents.
	@failed=()
	look() { echo "== $$1"; shift; "$$@" || failed+=("$$*"); }
	look "Form" $(BIN)/ruff format --check --quiet src tests
	look "Lint" $(BIN)/ruff check --quiet src tests
	look "Types" $(BIN)/mypy
	look "Import rules" $(BIN)/lint-imports --no-logo
	look "Migrations in step with the models" env HIDEWRIGHT_HOME=build/check-home \
		$(BIN)/hidewright manage makemigrations --check --dry-run
	if [ -z "$(HOUSE)" ]; then
		look "The house and its documents" $(BIN)/pytest tests/test_architecture.py tests/test_docs.py
	fi
	if [ $${#failed[@]} -gt 0 ]; then
		printf 'Not in order: %s\n' "$${failed[@]}" >&2
		exit 1
	fi
	echo "All in order."

format: setup-test ## Put the code into the house's form.
	@$(BIN)/ruff format src tests
	$(BIN)/ruff check --fix src tests

bench: setup-test ## Measure each stage against its goal and against an independent answer; writes build/bench.json.
	@nice -n 10 $(BIN)/python tests/bench/run.py $(ARGS)

shots: setup-test system ## Photograph every page of the demonstration at three widths into build/shots.
	@nice -n 10 $(BIN)/python tests/browser/walk.py $(ARGS)

pictures: setup-test system ## Take the guide's pictures anew from the demonstration.
	@nice -n 10 $(BIN)/python tests/browser/walk.py --guide $(ARGS)

# --- Upkeep ----------------------------------------------------------------------------------------------------------

lock: setup-test ## Choose the newest fitting versions anew and write both lock files.
	@[ -x $(BIN)/uv ] || $(PIP) install uv
	$(LOCK) --extra app --extra postgres --group build --group test $(ARGS) -o requirements/test.txt
	$(LOCK) --extra app --group build -c requirements/test.txt $(ARGS) -o requirements/run.txt

migrations: setup-test ## Add a migration for what changed in the models; those of a release are never changed.
	@HIDEWRIGHT_HOME=build/check-home $(BIN)/hidewright manage makemigrations workshop $(ARGS)
	$(BIN)/ruff format --quiet src/hidewright/workshop/migrations

clean: ## Remove what was built; the shop's own data stays.
	@rm -rf build dist .mypy_cache .ruff_cache .hypothesis .import_linter_cache
	find src tests -name __pycache__ -type d -prune -exec rm -rf {} +
