"""Benchmarks, each beside its peer in the same run: `python -m tests.bench.<name>`. The site imports none of them."""
