# Each target sets up what it needs: .venv is made on first use (tools/setup.sh).
RECORDINGS ?= tests/data/recordings
ARGS ?=
INTAKE_ARGS ?=
READY := .venv/.ready
BIN := .venv/bin

.PHONY: help pictures demo test check format bench score soak hardware hardware-check clean

help: ## List the targets
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  make \1\t\2/p' $(MAKEFILE_LIST)

demo: $(READY) ## Play a whole service on this terminal
	@$(BIN)/drainscale demo $(ARGS)

test: check ## Run the checks, then every test
	$(BIN)/python -m pytest -n auto --maxprocesses 4 --dist loadfile $(ARGS)

check: $(READY) ## Lint, format, types, import rule
	$(BIN)/ruff check . && $(BIN)/ruff format --check . && $(BIN)/mypy && $(BIN)/lint-imports

format: $(READY) ## Put the code in the one layout
	$(BIN)/ruff format . && $(BIN)/ruff check --fix --select I .

score: $(READY) ## Replay the recordings, compare with their truth, draw it
	$(BIN)/drainscale score $(RECORDINGS) --plots $(ARGS)

soak: $(READY) ## Run, replay, kill and cut off services in closed loop; claims, yes or NO
	@$(BIN)/drainscale soak $(ARGS)

bench: $(READY) ## Time the measuring core, and the server's intake
	$(BIN)/python -m drainscale_sim.bench $(ARGS)
	$(BIN)/python -m drainscale_server.bench $(INTAKE_ARGS)

hardware: $(READY) ## Write the generated files of the hardware dossier
	$(BIN)/python hardware/tools/generate.py $(ARGS)

hardware-check: $(READY) ## Compare them with their sources; part of test
	$(BIN)/python hardware/tools/generate.py --check

pictures: $(READY) ## Take the pictures of the board anew, from a simulated service
	$(BIN)/python -m tests.server.board.take_pictures docs/images

clean: ## Remove what the other targets made
	rm -rf .venv build dist out .mypy_cache .pytest_cache .ruff_cache .hypothesis .import_linter_cache

$(READY): tools/setup.sh pyproject.toml constraints.txt
	@bash tools/setup.sh
