# The verbs of this project; `make help` lists them.
PYTHON ?= python3
BIN := .venv/bin
export UV_PYTHON_DOWNLOADS := never
# Dozens of processes import the same code; compiled each time anew it would take longer than what they do.
export PYTHONDONTWRITEBYTECODE :=
RUN := $(BIN)/python -m services.embedded run --
TESTING := DJANGO_SETTINGS_MODULE=services.settings.testing

.PHONY: help setup demo test test-other-postgres check lint types imports migrations-check schema schema-check bench shell lock clean

help: ## What can be made
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 22

.venv/ready-%: requirements/%.txt requirements/uv.txt
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Backpull needs Python 3.11 or newer; name one with PYTHON=python3.12")'
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/uv.txt
	@$(BIN)/uv pip sync --quiet --python $(BIN)/python --require-hashes requirements/$*.txt
	@rm -f .venv/ready-*
	@touch $@

setup: .venv/ready-development ## Make the environment for working on the code

# The demo needs less than development; where that is there already, it stays.
.venv/ready-demo:
	@if [ .venv/ready-development -nt requirements/development.txt ]; then true; else $(MAKE) --no-print-directory .venv/ready-embedded; fi

demo: .venv/ready-demo ## One overhaul through the API, then serve until Ctrl-C (ONCE=1, KEEP=1, PORT=8800)
	@$(BIN)/python -m services.demo.running

test: setup ## The whole suite on a real PostgreSQL, in parallel
	@$(RUN) $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -q $(PYTEST)

test-other-postgres: setup ## The suite on another PostgreSQL: PG_BIN=/path/to/bin
	@$(BIN)/python -m services.embedded run --postgres-binaries $(PG_BIN) -- $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -q $(PYTEST)

lint: setup ## Style, types, import contracts
	@$(BIN)/ruff check . && $(BIN)/ruff format --check .
	@$(BIN)/lint-imports --no-cache
	@$(BIN)/mypy .

migrations-check: setup ## Models and migrations agree, migrations are safe
	@$(RUN) sh -c '$(TESTING) $(BIN)/python manage.py makemigrations --check --dry-run'

schema: setup ## Write docs/openapi.yaml anew
	@$(TESTING) $(BIN)/python manage.py spectacular --validate --fail-on-warn --file docs/openapi.yaml

schema-check: setup
	@$(TESTING) $(BIN)/python manage.py spectacular --validate --fail-on-warn --file .data-openapi.yaml && diff -u docs/openapi.yaml .data-openapi.yaml; code=$$?; rm -f .data-openapi.yaml; exit $$code

check: lint migrations-check schema-check test ## Everything CI checks

bench: setup ## Ratios against floors measured in the same run
	@$(RUN) $(BIN)/python -m bench
	@$(BIN)/python -m services.embedded run --durable -- $(BIN)/python -m bench ledger

shell: setup ## A Python shell with the models, on a database of its own
	@$(RUN) sh -c '$(TESTING) $(BIN)/python manage.py migrate -v 0 && $(TESTING) $(BIN)/python manage.py shell'

lock: setup ## Compile the locks of requirements/*.in anew
	@for one in uv service embedded development object-store; do $(BIN)/uv pip compile --quiet --generate-hashes --universal --python-version 3.11 --no-header --no-emit-index-url requirements/$$one.in -o requirements/$$one.txt; done

clean: ## Remove the environment and the embedded servers' data
	@rm -rf .venv .data build
