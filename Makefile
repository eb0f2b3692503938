# make demo    set up, then check, invent, replay, prove: the whole tour, charts in out/; the home alive on its pages
# make demo-stop
# make test    everything that must hold before a change goes in
# make install the command alone: .venv/bin/stillwell
# make lint | bench | clean      bench: FAST=1 for a quick look

PYTHON ?= python3
EXTRAS ?= desk,watch,web,trial
# What the tests need of Debian itself, as package:command. Root gets it installed; anybody else is told.
DEBIAN = mosquitto:mosquitto chromium:chromium postgresql:pg_lsclusters openssl:openssl

apt = { apt-get install -y --no-install-recommends $1 || { apt-get update && apt-get install -y $1; }; }

PIP = -m pip --disable-pip-version-check --quiet
export PIP_CONSTRAINT := constraints.txt
export PIP_BUILD_CONSTRAINT := constraints.txt
INSTALLED = .venv/.installed
TESTED = .venv/.tested
BASE = .venv-base/.tested

.NOTPARALLEL:
.DELETE_ON_ERROR:
.PHONY: install demo demo-stop test lint base whole bench clean debian

install: $(INSTALLED)

demo: $(INSTALLED)
	sh examples/demo.sh

demo-stop:
	sh examples/demo-live.sh stop

# pytest has the last word, so that its summary is what one sees. CI fixes the seed of invented cases: the same run gives
# the same answer. Plain pytest draws new ones each time.
test: export CI = true
test: lint base whole

lint: $(TESTED)
	.venv/bin/ruff format --check --quiet
	.venv/bin/ruff check --quiet
	.venv/bin/mypy --no-error-summary
	.venv/bin/lint-imports --no-logo --cache-dir .venv/.imports > .venv/.imports.txt || { cat .venv/.imports.txt; exit 1; }
	.venv/bin/codespell

base: $(BASE) debian
	.venv-base/bin/pytest -m base -n 2

# What the light installation has answered for already is not asked again; plain pytest asks everything.
whole: $(TESTED) debian
	.venv/bin/pytest -m 'not base' -n 2 --dist worksteal

bench: $(TESTED)
	@for script in $$(grep -l __main__ benchmarks/*.py); do \
		echo "== $$script"; .venv/bin/python $$script $(if $(FAST),--fast) || exit 1; \
	done

clean: demo-stop
	rm -rf .venv .venv-base out dist .hypothesis .pytest_cache .mypy_cache .ruff_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

# Two environments: .venv with everything, .venv-base with the light installation and nothing that only extras bring.

$(INSTALLED): pyproject.toml constraints.txt | .venv/bin/python
	.venv/bin/python $(PIP) install --editable '.$(EXTRAS:%=[%])'
	touch $@

$(TESTED): $(INSTALLED)
	.venv/bin/python $(PIP) install --editable '.[desk,watch,web,trial,postgres,test,lint]'
	touch $@

$(BASE): pyproject.toml constraints.txt | .venv-base/bin/python
	.venv-base/bin/python $(PIP) install --editable . pytest pytest-xdist hypothesis
	touch $@

.venv/bin/python .venv-base/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo 'Stillwell needs Python 3.11 or newer: make PYTHON=python3.12'; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2> /dev/null || { [ "$$(id -u)" = 0 ] && $(call apt,python3-venv); } \
		|| { echo 'Python cannot make environments here: apt-get install python3-venv'; exit 1; }
	$(PYTHON) -m venv $(patsubst %/bin/python,%,$@)

debian:
	@for one in $(DEBIAN); do \
		command -v "$${one#*:}" > /dev/null && continue; \
		[ "$$(id -u)" = 0 ] || { echo "The tests need $${one%:*}: apt-get install $${one%:*}"; exit 1; }; \
		$(call apt,"$${one%:*}") || exit 1; \
	done
