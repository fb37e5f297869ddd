"""One thread of linear algebra while many small matrices are at work.

numpy and scipy bring a pool of threads each, which wait by spinning: of matrices of a
few hundred rows they make nothing faster, and much slower where a core is busy.
"""

import ctypes
import os
from collections.abc import Callable
from contextlib import ContextDecorator
from functools import cache
from importlib import import_module
from threading import Lock
from typing import NamedTuple

_BRINGERS = ("numpy.linalg._umath_linalg", "scipy.linalg._fblas")
"""Modules that are linked with a library of linear algebra."""
_NAMES = (
    "scipy_openblas_{}_num_threads64_",
    "scipy_openblas_{}_num_threads",
    "openblas_{}_num_threads64_",
    "openblas_{}_num_threads",
)
_STATED = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


class _Pool(NamedTuple):
    get: Callable[[], int]
    set: Callable[[int], None]


@cache
def _pools() -> tuple[_Pool, ...]:
    """Return the pools to set: none of a library not known, nor of a stated size."""
    found: list[_Pool] = []
    if any(name in os.environ for name in _STATED):
        return ()
    for bringer in _BRINGERS:
        try:
            library = ctypes.CDLL(import_module(bringer).__file__)
        except (ImportError, OSError, TypeError):
            continue
        for name in _NAMES:
            if hasattr(library, name.format("set")):
                get = getattr(library, name.format("get"))
                found.append(_Pool(get, getattr(library, name.format("set"))))
                break
    return tuple(found)


class OneThread(ContextDecorator):
    """Keep to one thread of linear algebra; who came first restores what was before.

    Whoever states the number of threads in the environment (OPENBLAS_NUM_THREADS,
    OMP_NUM_THREADS, MKL_NUM_THREADS) is obeyed. Where the library of linear algebra is
    none that is known here, nothing happens.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._inside = 0
        self._before: list[int] = []

    def __enter__(self) -> None:
        """Set one thread, unless somebody is inside already."""
        with self._lock:
            self._inside += 1
            if self._inside == 1:
                self._before = [pool.get() for pool in _pools()]
                for pool in _pools():
                    pool.set(1)

    def __exit__(self, *_: object) -> None:
        """Restore what was before, when the last one leaves."""
        with self._lock:
            self._inside -= 1
            if self._inside == 0:
                for pool, before in zip(_pools(), self._before, strict=True):
                    pool.set(before)


one_thread = OneThread()
"""The one of this process: ``with one_thread:``, or ``@one_thread`` on a function."""
