"""What a unit can be and what is checked at it, as data: TOML files with a version, read once into typed rows.

Holds no rule. Who wants other checks edits the files; an id stays what it is for ever, since records name it.
"""
