"""Small faults put into `commissioning/engineering`, one at a time: do the tests of that module notice?

`python -m tests.mutation` runs alone, on one core, and is no part of the tests. What it found stands in
docs/mutation.md, where every survivor has either an assertion since or an explanation.
"""
