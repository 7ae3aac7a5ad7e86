"""Trend logs: from a file as a building system exports it to series in SI, each repair said with its line.

Pure: no Django, no clock, no database. `read` gives rows with their line numbers, `understand` proposes a mapping,
`convert` applies one, `store` keeps the result as Parquet and opens it. What a series means is judged elsewhere.
"""

VERSION = 1
"""Of the conversion: a higher one makes every kept Parquet again."""
