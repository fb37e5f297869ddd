"""Memory that was let go in many pieces, given back to the system."""

import ctypes
import sys


def give_back() -> None:
    """Give back what the C library keeps of freed memory, where it can be asked to.

    glibc gives back by itself only what lies at the end of its heap (malloc_trim(3)).
    """
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)
