# Two habits matter: `make demo` and `make test`. Both do all set-up by themselves.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SIZE ?= usual

.PHONY: help demo test lint format bench audit clean

help:
	@echo "make demo   set up and prepare the demo parish's coming services (booklet, recordings, page)"
	@echo "make test   set up and run every check"
	@echo "make lint   style, types and the order of the packages"
	@echo "make format put the code in its usual shape"
	@echo "make bench  every measured figure beside its limit and its peer, into docs/benchmarks.md"
	@echo "            (a quarter of an hour; make bench SIZE=full for the long ones)"
	@echo "make audit  ask what is known against the libraries, and say what could not be asked"

$(VENV)/.run: pyproject.toml tools/setup.sh
	@PYTHON="$(PYTHON)" VENV="$(VENV)" sh tools/setup.sh run

$(VENV)/.dev: $(VENV)/.run
	@PYTHON="$(PYTHON)" VENV="$(VENV)" sh tools/setup.sh dev

demo: $(VENV)/.run
	@$(BIN)/chantwright demo --out demo

lint: $(VENV)/.dev
	$(BIN)/ruff check src tests bench tools
	$(BIN)/ruff format --check src tests bench tools
	$(BIN)/mypy
	$(BIN)/lint-imports

test: lint
	$(BIN)/pytest -n auto

format: $(VENV)/.dev
	$(BIN)/ruff format src tests bench tools
	$(BIN)/ruff check --fix src tests bench tools

bench: $(VENV)/.dev
	@$(BIN)/python -m pip --disable-pip-version-check --quiet install --group bench
	@$(BIN)/python bench/table.py --size $(SIZE)

audit: $(VENV)/.dev
	@$(BIN)/python tools/audit.py

clean:
	rm -rf $(VENV) demo .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
