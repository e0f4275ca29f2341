PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint format score bench clean help

help:  ## what each target does
	@grep -E '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/'

$(VENV)/.installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test,lint]'
	@touch $@

demo: $(VENV)/.installed  ## draft the demo project and say where its sheet is
	$(BIN)/python demo_project/make_footage.py
	@for episode in demo_project/episodes/*/; do $(BIN)/reelnotes draft $$episode || test $$? -eq 1 || exit $$?; done

test: $(VENV)/.installed  ## the whole test suite
	$(BIN)/python -m pytest

lint: $(VENV)/.installed  ## ruff and mypy, strict
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

format: $(VENV)/.installed  ## let ruff mend what it can
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

score: $(VENV)/.installed  ## drafts of the labelled episodes against their labels, where they are at hand
	$(BIN)/python scripts/score.py

bench: $(VENV)/.installed  ## cost of the work as ratios of paired runs
	$(BIN)/python scripts/bench.py
	$(BIN)/python scripts/bench_archive.py
	$(BIN)/python scripts/bench_picture.py --pairs 3 --whole 1

clean:  ## what is made by the above
	rm -rf $(VENV) demo_project/episodes/*/out .mypy_cache .ruff_cache .pytest_cache .hypothesis
