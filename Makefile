# What people type. Everything else is manage.py.
PYTHON ?= python3.11
VENV := .venv
PY := $(VENV)/bin/python
ONLY ?=

.PHONY: venv dev run test quick test-busy coverage hostile check sentences bench faults load pictures first-evening screenshots mutants clean

venv: $(VENV)/run.stamp

# Installs only when the locked requirements have changed.
$(VENV)/run.stamp: requirements.txt
	@test -x $(PY) || $(PYTHON) -m venv $(VENV)
	@echo "Installing what helmroom needs (once for each change of requirements.txt)..."
	@$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	@touch $@

dev: $(VENV)/dev.stamp

$(VENV)/dev.stamp: requirements-dev.txt
	@test -x $(PY) || $(PYTHON) -m venv $(VENV)
	@echo "Installing what the tests need (once for each change of requirements-dev.txt)..."
	@$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.txt
	@touch $@ $(VENV)/run.stamp

run: venv
	@$(PY) manage.py start

# All tests; ONLY="tests/motion -k turn" is handed to pytest.
test: dev
	@$(PY) -m pytest $(ONLY)

# What takes next to no time, between two edits (tests/quick.py).
quick: dev
	@$(PY) -m pytest --quick $(ONLY)

# All tests while eight other processes keep the machine busy (tests/busy.py).
test-busy: dev
	@$(PY) -m tests.busy $(ONLY)

# All tests, and which lines and branches of the layers they go through (processes of their own too).
coverage: dev
	@$(PY) -m pytest -n 4 --dist worksteal --cov --cov-report=term $(ONLY)

# Every field of every form of every role filled in badly, POSTS times (tests/hostile/test_every_form.py).
POSTS ?= 10000
hostile: dev
	@HELMROOM_HOSTILE_POSTS=$(POSTS) $(PY) -m pytest tests/hostile/test_every_form.py -rP --timeout 7200

check: dev
	@$(VENV)/bin/ruff check .
	@$(VENV)/bin/ruff format --check .
	@$(VENV)/bin/djangofmt --check --quiet templates
	@$(VENV)/bin/mypy
	@DJANGO_SETTINGS_MODULE=config.settings.test $(PY) manage.py makemigrations --check --dry-run
	@$(PY) -m pytest tests/test_architecture.py tests/test_templates.py

# What is to be translated, read into locale/, and the catalogues compiled. Needs GNU gettext; starting and testing do not.
SENTENCES := DJANGO_SETTINGS_MODULE=config.settings.test $(PY) manage.py
sentences: dev
	@$(SENTENCES) makemessages -l es -l de --no-location --no-wrap --no-obsolete -i '.venv' -i var -i tests -i benchmarks -i docs -i fixtures
	@sed -i '/^"POT-Creation-Date/d; /^"Report-Msgid-Bugs-To/d' locale/*/LC_MESSAGES/django.po
	@$(SENTENCES) compilemessages -l es -l de

$(VENV)/bench.stamp: requirements-bench.txt
	@test -x $(PY) || $(PYTHON) -m venv $(VENV)
	@echo "Installing what the benchmarks need (once for each change of requirements-bench.txt)..."
	@$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-bench.txt
	@touch $@ $(VENV)/dev.stamp $(VENV)/run.stamp

bench: $(VENV)/bench.stamp
	@$(PY) -m benchmarks $(ONLY)

# What becomes of runs, jobs and words when something breaks, in houses of its own on loopback: docs/faults.md. WRITE=1 writes it.
WRITE ?=
faults: dev
	@$(PY) -m tests.faults $(if $(WRITE),--write) $(ONLY)

# Many tablets and boards at once against a server of its own, or with LAPTOP=1 a laptop's: docs/load.md.
TABLETS ?=
CLUBS ?=
SECONDS ?= 120
LAPTOP ?=
load: dev
	@$(PY) -m tests.load --seconds $(SECONDS) $(if $(TABLETS),--tablets $(TABLETS)) $(if $(CLUBS),--clubs $(CLUBS)) $(if $(LAPTOP),--laptop)

# Small faults put into the modules that decide, to see whether their tests notice: docs/mutants.md.
MUTANTS ?=
mutants: dev
	@$(PY) -m tests.mutants $(if $(MUTANTS),--$(MUTANTS)) $(if $(ONLY),'$(ONLY)')

pictures: dev
	@$(PY) -m docs.pictures

# The first evening of a club of one's own, done by hand in a fresh clone: counted, timed, with pictures.
first-evening: dev
	@$(PY) -m docs.first_evening

# A contact sheet of every page and state, three widths, light and dark, into var/screenshots; ONLY="board job-failed" for some.
MINUTES ?= 25
screenshots: dev
	@$(PY) -m docs.screenshots --minutes $(MINUTES) $(if $(ONLY),--only $(ONLY))

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
