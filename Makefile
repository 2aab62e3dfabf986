# The two commands are `make demo` and `make test`; each sets up what it needs.
PYTHON ?= python3

# Small matrices: threads of the linear algebra would only wait on each other.
export OPENBLAS_NUM_THREADS := 1
export OMP_NUM_THREADS := 1
BIN := .venv/bin

.PHONY: demo test test-slow check lock clean

.venv/runtime: requirements/runtime.txt pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/runtime.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	touch $@

.venv/dev: requirements/dev.txt .venv/runtime
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	touch $@

# Make the invented job, run the main job on it, say where the report lies.
demo: .venv/runtime
	$(BIN)/saltglaze demo demo-job

test: .venv/dev check
	sh .ci/system-packages
	$(BIN)/python -m pytest -n auto

test-slow: .venv/dev
	$(BIN)/python -m pytest -m slow

check: .venv/dev
	$(BIN)/ruff check src tests benchmarks
	$(BIN)/ruff format --check src tests benchmarks
	$(BIN)/mypy
	$(BIN)/lint-imports

# Remake the lock files (needs `pip install uv` first); they name no download host.
LOCK := uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-annotate -q pyproject.toml --group build
lock:
	$(LOCK) -o requirements/runtime.txt
	$(LOCK) --extra speech -o requirements/speech.txt
	$(LOCK) --extra speech --group dev -o requirements/dev.txt

clean:
	rm -rf demo-job build out
