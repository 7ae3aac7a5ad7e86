"""Which SQLite libraries may be trusted with write-ahead logging."""


def wal_is_sound(version: tuple[int, ...]) -> bool:
    """Whether this SQLite has the fix for the WAL-reset fault (a write racing a checkpoint can lose pages).

    Fixed in 3.51.3, with the fix carried back to 3.50.7 and 3.44.6; the fault exists since 3.7.0.
    """
    return version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51, 0) or (3, 44, 6) <= version < (3, 45, 0)
