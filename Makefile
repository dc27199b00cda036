# Two commands set everything up on a machine with Python 3.11+ and make:
#   make demo    the whole job in an invented scenario; prints where to look
#   make test    everything that holds the project true
PYTHON ?= python3
BIN := .venv/bin
SOURCES := $(shell find analysis forms panel demo_sessions -type f -not -path '*/__pycache__/*' 2>/dev/null)

.PHONY: demo test lint types docs rooms check reference wheel clean install

# Run the demo on the installed package.
demo: .venv/installed
	$(BIN)/kikichoko demo

# Tests, among them every example in docstrings and documents. A file's tests stay together, so
# that what they share is made once. What pytest makes of a test file is kept for the next run,
# whatever the shell says: it takes as long as all imports. Each worker has one core: threads of
# numpy and OpenCV that wait for one would only burn it.
test: export PYTHONDONTWRITEBYTECODE =
test: export OMP_NUM_THREADS = 1
test: export OPENBLAS_NUM_THREADS = 1
test: export OPENCV_FOR_THREADS_NUM = 1
test: .venv/installed
	$(BIN)/pytest -n auto --dist loadfile tests docs README.md
	$(BIN)/pytest -q -p no:cacheprovider --doctest-modules --pyargs kikichoko

# Style and formatting.
lint: .venv/ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

# Strict types over the installed rooms, and over a script as a user writes one.
types: .venv/installed
	$(BIN)/mypy -p kikichoko
	$(BIN)/mypy tests/test_users_script.py

# Pages and pictures that are made from the code (CI fails when one is stale), and the site of all
# documents in site/, which opens without a network; a warning is an error.
docs: .venv/installed
	$(BIN)/python docs/make_pages.py
	$(BIN)/python tests/tools/house_plan.py --write
	rm -rf site
	$(BIN)/python -m sphinx -q -W --keep-going -d build/doctrees docs site
	@echo "Open site/index.html"

# The sub-rooms of the house by level, and what each imports.
rooms:
	@$(PYTHON) tests/tools/house_plan.py

# All that CI runs.
check: lint types test wheel

# The wheel holds every file of the three rooms.
wheel: .venv/ready
	rm -rf build dist
	$(BIN)/python -m build --wheel --no-isolation --outdir dist . >/dev/null
	$(BIN)/python tests/wheel_is_whole.py dist

# Reference values from R (needs Rscript; never part of CI).
reference:
	for script in tests/reference/*.R; do Rscript $$script; done

install: .venv/installed

# Libraries that an extra has lately come to ask for are fetched too: pip check does not look there.
.venv/extras: pyproject.toml constraints.txt | .venv/ready
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt \
		".[desk,photo,parquet,pdf,docs,dev]"
	rm -rf build *.egg-info
	touch $@

# Tests and types run on the installed package, which also proves the wheel. A library that
# pyproject.toml has lately come to ask for is fetched.
.venv/installed: .venv/ready .venv/extras pyproject.toml $(SOURCES)
	rm -rf build *.egg-info
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --force-reinstall .
	$(BIN)/python -m pip check >/dev/null || $(BIN)/python -m pip install --quiet \
		--disable-pip-version-check -c constraints.txt ".[desk,photo,parquet,pdf,docs,dev]"
	rm -rf build *.egg-info
	touch $@

.venv/ready: pyproject.toml constraints.txt
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt ".[desk,photo,parquet,pdf,docs,dev]"
	rm -rf build *.egg-info
	touch $@

clean:
	rm -rf .venv build dist site *.egg-info
