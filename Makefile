# Everything one does here from a shell. `make` alone lists the targets.

SHELL := /bin/bash
.DEFAULT_GOAL := help
PORT ?= 8000
ADDRESS ?= 127.0.0.1

# The first Python that is new enough, unless PYTHON says which.
PYTHON ?= $(shell for name in python3 python3.14 python3.13 python3.12 python3.11; do \
	$$name -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$name && break; done)
BIN := .venv/bin
# The Django packages and the pure one, without the tests: folders with an __init__.py.
PACKAGES := $(filter-out tests,$(patsubst %/__init__.py,%,$(wildcard */__init__.py)))

# Two processes fit two cores. A file's tests stay together in one of them, because they share what the file builds;
# tests/conftest.py says in which order files are dealt out.
# Small matrices are quicker on one thread, and each of the two workers has a core.
PYTEST := env OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder
SERVER := $(BIN)/gunicorn config.wsgi --bind $(ADDRESS):$(PORT) --workers 2 --threads 4 --limit-request-line 8190 --no-control-socket

# The demo has a data folder and a database of its own, so that it never touches a course's real record.
DEMO_DIR := var/demo
DEMO := env -u LINEWORTHY_SECRET_KEY -u LINEWORTHY_DEBUG LINEWORTHY_DEMO=true LINEWORTHY_HTTPS=false \
	LINEWORTHY_HOSTS=127.0.0.1,localhost,$(ADDRESS) LINEWORTHY_SECRET_KEY_FILE=$(DEMO_DIR)/secret \
	LINEWORTHY_LOG_KEY_FILE=$(DEMO_DIR)/log-key LINEWORTHY_PDF_KEY_FILE=$(DEMO_DIR)/pdf-key.p12 \
	LINEWORTHY_DATA_DIR=$(DEMO_DIR) DATABASE_URL=sqlite:///$(DEMO_DIR)/lineworthy.sqlite3

# An installation as it should be, for the checks; nothing is served or stored with it.
INSTALLED := LINEWORTHY_SECRET_KEY=$$($(BIN)/python -c 'import secrets; print(secrets.token_urlsafe(50))') \
	LINEWORTHY_HOSTS=lines.example.org LINEWORTHY_PROXIES=1 LINEWORTHY_DATA_DIR=var \
	LINEWORTHY_MAIL_URL=smtp://mail.example.org DATABASE_URL=sqlite:///var/lint.sqlite3

.PHONY: help demo demo-again demo-manage serve migrate test test-slow format bench screenshots mutants mutants-again
.PHONY: lint lint-style lint-imports lint-types lint-templates lint-django

help:
	@echo "make demo         a demo course with its people, served on $(ADDRESS):$(PORT) (PORT= to change)"
	@echo "make demo-manage  a command of manage.py on the demo, DO='shell'"
	@echo "make demo-again   the same, begun anew: what was entered in the demo is thrown away"
	@echo "make test         all tests but the slow ones, on SQLite and, if installed, on PostgreSQL"
	@echo "make test-slow    the slow tests"
	@echo "make mutants      change the pure code in one place at a time: does a test notice? (MODULE=wear, SAMPLE=100)"
	@echo "make lint         style, imports, types, templates, migrations, settings (each also alone: lint-types ...)"
	@echo "make format       put the code into the house's layout"
	@echo "make bench        the benchmarks, as a table and as JSON"
	@echo "make screenshots  the pictures of README.md, into tests/pictures"
	@echo "make migrate      bring the database up to date (environment: see README.md)"
	@echo "make serve        check the installation and serve it (environment: see README.md)"

# --- the environment

$(BIN)/python:
	@test -n "$(PYTHON)" || { echo "Python 3.11 or newer is needed; PYTHON=/path/to/python3 says where it is."; exit 1; }
	$(PYTHON) -m venv .venv

.venv/ready: requirements.txt | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --requirement requirements.txt
	@touch $@

.venv/ready-for-tests: requirements.txt tests/requirements.txt | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --requirement tests/requirements.txt
	@touch .venv/ready $@

.venv/ready-for-mutants: tests/mutants/requirements.txt | .venv/ready-for-tests
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --requirement tests/mutants/requirements.txt
	@touch $@

# --- to run it

# The list of people is written last: without it a load was broken off, and the demo is begun anew.
demo: .venv/ready
	@test -s $(DEMO_DIR)/people.txt || rm -rf $(DEMO_DIR)
	@mkdir -p $(DEMO_DIR)
	@test -s $(DEMO_DIR)/secret || (umask 077 && \
		$(BIN)/python -c 'import secrets; print(secrets.token_urlsafe(50))' > $(DEMO_DIR)/secret)
	@test -s $(DEMO_DIR)/log-key || (umask 077 && $(BIN)/python -c \
		'import base64, secrets; print(base64.b64encode(secrets.token_bytes(32)).decode())' > $(DEMO_DIR)/log-key)
	@test -s $(DEMO_DIR)/pdf-key.p12 || $(DEMO) $(BIN)/python manage.py pdf_key make $(DEMO_DIR)/pdf-key.p12 \
		--name 'Fernhollow Adventures' --since 2020-01-01 > /dev/null
	@$(DEMO) $(BIN)/python manage.py migrate --verbosity 0
	@$(DEMO) $(BIN)/python manage.py createcachetable --verbosity 0
	@$(DEMO) $(BIN)/python manage.py collectstatic --noinput --verbosity 0
	@test -s $(DEMO_DIR)/people.txt || { echo "Loading the demo course ..." && \
		$(DEMO) $(BIN)/python manage.py load_demo > $(DEMO_DIR)/loading.txt && \
		mv $(DEMO_DIR)/loading.txt $(DEMO_DIR)/people.txt; }
	@echo; cat $(DEMO_DIR)/people.txt
	@echo; echo "Open http://$(ADDRESS):$(PORT)/   (Ctrl-C ends it)"
	@exec $(DEMO) $(SERVER) --log-level warning

demo-again:
	@rm -rf $(DEMO_DIR)
	@$(MAKE) --no-print-directory demo

# A command of manage.py on the demo: make demo-manage DO='shell'
demo-manage: .venv/ready
	@$(DEMO) $(BIN)/python manage.py $(DO)

migrate: .venv/ready
	$(BIN)/python manage.py migrate
	$(BIN)/python manage.py createcachetable

serve: .venv/ready
	$(BIN)/python manage.py collectstatic --noinput --verbosity 0
	$(BIN)/python manage.py check --deploy --database default --fail-level ERROR
	exec $(SERVER)

# --- to change it

# Both databases are tried even if the first fails. On PostgreSQL the browser does only what is marked for every database.
# What asks no database is tested once, and so is what is done to a bundle after it was made.
NO_DATABASE := --ignore=tests/engineering --ignore=tests/phone $(foreach one,attacks* any_change forms keys people program,--ignore-glob='tests/verifier/test_$(one).py')
# Rights, pages and whole mornings ask a database nothing that others do not: PostgreSQL answers them with the slow tests.
LATER := tests/test_access.py tests/courses tests/reports $(foreach one,arrived_later band demo kept_pages left morning \
	not_checked overtaken pages phone_rules riding sheet_pages stopped_short tag told_in_us_units true_times walk,\
	tests/inspections/test_$(one).py)

# Where a PostgreSQL is known to be there: on that alone a whole morning in the browser, and of the running day all that is
# not above. SQLite answers it with the slow tests. What is about the databases themselves runs on both.
MORNING := tests/browser/test_morning.py::test_a_whole_morning
BOTH := $(wildcard $(foreach one,backup* late_order one_moment rebuild stateful,tests/inspections/test_$(one).py))
DAY := $(filter-out $(LATER) $(BOTH),$(wildcard tests/inspections/test_*.py))

test: .venv/ready-for-tests
	@failed=0; \
	$(PYTEST) $(if $(CI),--deselect=$(MORNING) $(DAY:%=--ignore=%)) || failed=1; \
	$(BIN)/python -m tests.pg $(PYTEST) $(NO_DATABASE) $(LATER:%=--ignore=%) -m "not slow and (not browser or every_database)" || failed=1; \
	exit $$failed

test-slow: .venv/ready-for-tests
	@failed=0; \
	$(PYTEST) -m slow || failed=1; \
	$(PYTEST) $(MORNING) $(DAY) || failed=1; \
	$(BIN)/python -m tests.pg $(PYTEST) $(NO_DATABASE) -m "slow and (not browser or every_database)" || failed=1; \
	$(BIN)/python -m tests.pg $(PYTEST) $(LATER) -m "not slow and (not browser or every_database)" || failed=1; \
	exit $$failed

lint: lint-style lint-imports lint-types lint-templates lint-django

lint-style: .venv/ready-for-tests
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

lint-imports: .venv/ready-for-tests
	$(BIN)/lint-imports --no-cache --no-logo

lint-types: .venv/ready-for-tests
	@mkdir -p var
	$(INSTALLED) $(BIN)/mypy $(PACKAGES)

lint-templates: .venv/ready-for-tests
	$(BIN)/djlint --quiet --lint templates

lint-django: .venv/ready-for-tests
	@mkdir -p var
	$(INSTALLED) $(BIN)/python manage.py makemigrations --check --dry-run
	$(INSTALLED) $(BIN)/python manage.py check --deploy --fail-level WARNING

format: .venv/ready-for-tests
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: .venv/ready-for-tests
	$(BIN)/python -m tests.bench

screenshots: .venv/ready-for-tests
	$(BIN)/python -m tests.screenshots

# Hours for all modules, minutes for one. What was tested stays in mutants/; mutants-again tests those that survived.
MUTANTS := OPENBLAS_NUM_THREADS=1 nice -n 15 $(BIN)/python -m tests.mutants

mutants: .venv/ready-for-mutants
	$(MUTANTS) run $(if $(MODULE),'$(MODULE)') $(if $(SAMPLE),--sample $(SAMPLE))

mutants-again: .venv/ready-for-mutants
	$(MUTANTS) again $(if $(MODULE),'$(MODULE)')
