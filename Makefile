# Needs only Python 3.11 with pip (and Python 3.13 to test against Blender 5.2); makes its own virtual environments.
# Another Python: make PYTHON=/path/to/python3.11 ...

export PYTHON
PY = .venv/bin/python

.PHONY: help demo test test-short bench lint extension clean distclean venv

help:
	@echo "make demo        the whole job on the example film: build/kettle-pond"
	@echo "make test        lint, and all tests in every Blender we support"
	@echo "make test-short  the same in one Blender, without the slow tests"
	@echo "make bench       the figures we promise, measured"
	@echo "make lint        ruff and mypy"
	@echo "make extension   the Blender extension, in dist/: for every system, and for this one with the film encoder"
	@echo "make clean       remove build/, dist/ and caches; make distclean: the virtual environments too"

venv:
	@sh .ci/venv.sh 5.0

demo: venv
	$(PY) -m pastepot.cli demo -o build/kettle-pond$(if $(DRAFT),-draft --draft)

test: venv
	@$(PY) .ci/test.py

test-short: venv
	@$(PY) .ci/test.py --short

lint: venv
	@$(PY) .ci/test.py --lint

bench: venv
	@$(PY) tests/bench/run.py

extension: venv
	@$(PY) .ci/build_extension.py

clean:
	rm -rf build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis

distclean: clean
	rm -rf .venv .venv-blender-*
