# Two commands do everything: make run, make test. Without make: python3 start.py run, python3 start.py test.
PYTHON ?= python3

.PHONY: run test check histories fuzz coverage mutants wheels catalogues pictures pins bench bench-along bench-cost bench-export bench-load bench-paint bench-identify bench-hear bench-lists bench-prints bench-match bench-import bench-pages bench-memory bench-scale bench-start
run test check histories fuzz coverage mutants wheels catalogues pictures bench bench-along bench-cost bench-export bench-load bench-paint bench-identify bench-hear bench-lists bench-prints bench-match bench-import bench-pages bench-memory bench-scale bench-start:
	@$(PYTHON) start.py $@ $(ARGS)

# For maintainers: writes the pinned files anew from the .in files. Needs uv.
pins:
	for set in run s3 dev bench; do \
	  uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
	    $$([ $$set = run ] || echo -c requirements/run.txt) requirements/$$set.in -o requirements/$$set.txt || exit 1; \
	done
