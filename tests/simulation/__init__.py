"""Field records with a known truth, judged by the public line: how often does a stated uncertainty hold?

`field` is the world: ducts, air, instruments and the people who read them. It imports nothing of the package, and it
does not draw from the package's assumptions: profiles follow a power law with skew, a separated side, lobes and swirl;
instruments err by a normal law about limits that the package takes as sharp; what repeats cannot show stays hidden.
The sizes of all this stand in `field`, each with its source, and most of them are common practice, no source.

`judged` sends the records through `commissioning.judging` and counts; `budgets` draws for the bare budget and imports
what it measures. `python -m tests.simulation` writes docs/coverage.md.
"""
