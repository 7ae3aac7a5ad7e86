"""Both sides of each ratio in docs/performance.md, measured in one run: `python -m tests.bench --help`."""
