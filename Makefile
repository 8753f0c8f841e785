# Everything sets itself up: Python 3.11 or newer, make and git are all that must be there.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

# The page is tested in a browser; CHROMIUM names another than Debian's.
CHROMIUM ?= chromium
export CHROMIUM

.PHONY: demo test thorough bench browser docs gallery smoke clean

$(VENV)/ready: pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "sunplan needs Python 3.11 or newer; try: make PYTHON=python3.12"; exit 1; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable '.[test]'
	@touch $@

# Where it may, it installs what is missing; else it says what to install.
browser:
	@command -v $(CHROMIUM) >/dev/null \
	  || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null && apt-get update -qq \
	       && apt-get install -y -qq --no-install-recommends chromium; } \
	  || { echo "make test needs Chromium: sudo apt-get install chromium, or make test CHROMIUM=PATH"; exit 1; }

test: $(VENV)/ready browser
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -n 2 --dist worksteal

# The same with many more random cases (tests/campaign.py).
thorough: $(VENV)/ready browser
	THOROUGH=1 $(BIN)/python -m pytest -n 2 --dist worksteal

demo: $(VENV)/ready
	$(BIN)/sunplan plan locations/lock-house.toml --date 2027-03-20 --out demo
	@echo "Look at demo/plan.html and demo/plan.pdf first, then at demo/plan.txt and the pictures."

bench: $(VENV)/ready
	OPENBLAS_NUM_THREADS=1 $(BIN)/python tests/bench.py

# What README and docs/ show of commands and of tables, made anew; DOCS names some of them.
docs: $(VENV)/ready
	OPENBLAS_NUM_THREADS=1 $(BIN)/python tests/documents.py $(DOCS)

gallery: $(VENV)/ready
	$(BIN)/python tests/gallery.py

# The wheel in environments of its own: the lowest versions, and every Python that is here.
smoke: $(VENV)/ready
	$(BIN)/python tests/smoke.py $(PYTHONS)

clean:
	rm -rf $(VENV) build demo *.egg-info
