# Everything lives in the project folder: `make clean-all` takes it away again.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# One library thread per process: two workers share two cores, not four threads.
export OMP_NUM_THREADS := 1
export OPENBLAS_NUM_THREADS := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: demo demo-sky demo-sensor demo-focus demo-flats demo-finish test lint style benchmarks docs-tables \
	clean-all

demo: $(VENV)/.run
	$(BIN)/nightglass demo

demo-sky: $(VENV)/.run
	$(BIN)/nightglass demo --sky

demo-sensor: $(VENV)/.run
	$(BIN)/nightglass demo --sensor

demo-focus: $(VENV)/.run
	$(BIN)/nightglass demo --focus

demo-flats: $(VENV)/.run
	$(BIN)/nightglass demo --flats

demo-finish: $(VENV)/.run
	$(BIN)/nightglass demo --finish

# Types are checked beside the tests: one core would else stand idle. What the checker has to say
# comes last, and either failure fails. Loops are compiled once, not by each of the workers. Files
# run in their own order: sorted by the number of tests, those of few long tests would come last.
test: $(VENV)/.test style
	@$(BIN)/mypy > $(VENV)/types.txt 2>&1 & types=$$!; trap 'kill $$types' INT TERM; \
	echo 'compiling loops, checking types'; $(BIN)/python tests/support/compile_loops.py && \
	echo '$(BIN)/pytest -n 2 --dist loadfile --no-loadscope-reorder tests' && \
	$(BIN)/pytest -n 2 --dist loadfile --no-loadscope-reorder tests; tests=$$?; \
	wait $$types; types=$$?; echo '$(BIN)/mypy'; cat $(VENV)/types.txt; \
	exit $$((tests ? tests : types))

lint: $(VENV)/.test style
	$(BIN)/mypy

style: $(VENV)/.test
	$(BIN)/ruff check src tests benchmarks design
	$(BIN)/ruff format --check src tests benchmarks design

benchmarks: $(VENV)/.test
	for script in benchmarks/*.py; do $(BIN)/python $$script || exit 1; done

docs-tables: $(VENV)/.test
	$(BIN)/python docs/make_tables.py

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit("nightglass needs Python 3.11 or newer; try: make PYTHON=python3.12") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run: pyproject.toml constraints.txt | $(BIN)/python
	$(BIN)/python -m pip install -q -c constraints.txt -e .
	touch $@

$(VENV)/.test: pyproject.toml constraints.txt | $(BIN)/python
	$(BIN)/python -m pip install -q -c constraints.txt -e '.[test]'
	touch $@ $(VENV)/.run

clean-all:
	rm -rf $(VENV) demo-bench demo-sky demo-sensor demo-focus demo-flats demo-finish
