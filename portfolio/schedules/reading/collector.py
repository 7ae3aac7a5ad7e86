"""Holding the garbage collector while a schedule's cells are made.

A large schedule is hundreds of thousands of small immutable objects, all kept and none in a cycle. The collector
walks all of them again each time the heap has grown by a quarter, which is a third of the whole time. So it waits;
the limits on cells bound what can come together meanwhile.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_lock = Lock()
_holders = 0
_was_enabled = False


@contextmanager
def held() -> Iterator[None]:
    """No cyclic collection inside; threads may overlap, the last one out lets the collector go on."""
    global _holders, _was_enabled
    with _lock:
        if not _holders:
            _was_enabled = gc.isenabled()
            gc.disable()
        _holders += 1
    try:
        yield
    finally:
        with _lock:
            _holders -= 1
            if not _holders and _was_enabled:
                gc.enable()
