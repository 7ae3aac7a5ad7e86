# Needs make and Python 3.11 or newer; everything else goes into .venv.
# `make demo` and `make test` are the two to start with; docs/operations.md and DEVELOPERS.md tell the rest.

VENV := .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
PIP := $(PY) -m pip --disable-pip-version-check --no-input
PORT ?= 8000
# The first Python that is new enough and can make a virtual environment; `make demo PYTHON=...` picks another.
PYTHON ?= $(shell for p in python3.13 python3.12 python3.11 python3 python; do \
	$$p -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 && echo $$p && break; done)
# Which tests `make test` runs and how it spreads them: a file at a time, in their order, so that what a file makes once
# is made once.
TESTS ?= not services and not browser
SPREAD ?= -n 2 --dist loadfile --no-loadscope-reorder

.DEFAULT_GOAL := help
.PHONY: help demo test check bench serve pictures lock install

help:
	@echo "make demo    sets up and plays the demo scenario from the schedule to the binders"
	@echo "make serve   serves it on http://127.0.0.1:$(PORT) (PORT=... for another), jobs included; Ctrl-C stops both"
	@echo "make test    the tests that need nothing but Python"
	@echo "make check   all that must hold before a change lands: .ci/run, which installs Debian packages"
	@echo "make bench   measures both sides of each ratio in docs/performance.md"
	@echo "make pictures  takes the pictures of docs/ again, of the demo in Chromium (OF=var: of a demo already played)"
	@echo "make lock    makes requirements/*.txt again from requirements/*.in (UPGRADE=--upgrade for newer versions)"

$(PY):
	@test -n "$(PYTHON)" || { \
		echo "No Python 3.11 or newer with the modules venv and ensurepip was found."; \
		echo "On Debian or Ubuntu: apt-get install python3 python3-venv. Elsewhere: make ... PYTHON=/path/to/python3"; \
		exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
		echo "$(PYTHON) is `$(PYTHON) --version 2>&1`; Python 3.11 or newer is needed."; exit 1; }
	@echo "Making $(VENV) with `$(PYTHON) --version`."
	@$(PYTHON) -m venv $(VENV) || { rm -rf $(VENV); echo "On Debian or Ubuntu: apt-get install python3-venv"; exit 1; }

# The stamps: a second run installs nothing unless the pinned file has changed. Wheels only: nothing is built from
# source but psychrolib and the parser of rtamt, test oracles of pure Python that have no wheel.
$(VENV)/installed-run: requirements/run.txt | $(PY)
	@echo "Installing what the server needs (once, about a minute)."
	@$(PIP) install -qq --require-hashes --only-binary :all: -r requirements/run.txt
	@touch $@

$(VENV)/installed-dev: requirements/dev.txt | $(PY)
	@echo "Installing what the tests need (once, about two minutes)."
	@$(PIP) install -qq --require-hashes --only-binary :all: --no-binary psychrolib,antlr4-python3-runtime -r requirements/dev.txt
	@touch $@ $(VENV)/installed-run # what the tests need holds all that the server needs, in the same versions

install: $(VENV)/installed-dev

demo: $(VENV)/installed-run
	@$(PY) manage.py migrate --no-input --verbosity 0
	@$(PY) manage.py demo

test: $(VENV)/installed-dev
	@$(PY) -m pytest -m "$(TESTS)" $(SPREAD)

check:
	@bash .ci/run

bench: $(VENV)/installed-dev
	@$(PY) -m tests.bench

# OF=var takes them of a copy of that directory instead of playing the demo once more.
pictures: $(VENV)/installed-dev
	@$(PY) -m tests.browser.pictures $(if $(OF),--of $(OF))

# Two processes, as in production: the web server, and the relay, which runs the jobs itself where there is no broker.
# Whichever ends first takes the other with it; so do Ctrl-C and a kill of this make.
serve: $(VENV)/installed-run
	@$(PY) manage.py migrate --no-input --verbosity 0
	@$(PY) manage.py relay & relay=$$!; \
	$(BIN)/gunicorn portfolio.wsgi:application --workers 2 --no-control-socket --bind 127.0.0.1:$(PORT) & web=$$!; \
	stop() { trap - INT TERM EXIT; kill $$web $$relay 2>/dev/null; wait $$web $$relay 2>/dev/null; }; \
	trap 'stop; exit 0' INT TERM; trap stop EXIT; \
	echo "Ventfolio is on http://127.0.0.1:$(PORT); Ctrl-C stops it."; \
	while kill -0 $$web 2>/dev/null && kill -0 $$relay 2>/dev/null; do sleep 1; done; \
	echo "The web server or the relay has ended by itself; see above."; exit 1

# docs/decisions/0003: ranges by hand in *.in, exact versions with hashes and without addresses in *.txt.
COMPILE = $(BIN)/uv pip compile --quiet --generate-hashes --no-emit-index-url --no-emit-find-links --no-annotate \
	--universal --python-version 3.11 --custom-compile-command "make lock" $(UPGRADE)
lock: | $(PY)
	@$(PIP) install -qq 'uv>=0.13,<0.14'
	@$(COMPILE) requirements/run.in -o requirements/run.txt
	@$(COMPILE) requirements/bacnet.in --constraint requirements/run.txt -o requirements/bacnet.txt
	@$(COMPILE) requirements/dev.in --constraint requirements/run.txt --constraint requirements/bacnet.txt -o requirements/dev.txt
	@! grep -n '://' requirements/*.txt || { echo "An address got into a pinned file."; exit 1; }
