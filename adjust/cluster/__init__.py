"""A network in parts: domains that workers hold, and separators that join them.

The way through it: ``touched`` which unknowns observations touch; ``dividing`` which
observations go together; ``tree`` who eliminates what; ``domains`` a part cut out;
``tasks`` what is done with a domain, ``finishing`` what is left of it, ``separators``
what is done with what its border says; ``loose`` what floats;
``passes`` up and down the tree; ``estimate`` the iteration; ``factor``,
``covariances``, ``tested`` and ``whole`` what is asked of the result; ``workers`` who
does it, ``store`` where they find a domain and leave its result.
"""

from .estimate import estimate_in_parts
from .parted import domains_wanted
from .store import InMemory, Store
from .workers import InProcess, Workers

__all__ = [
    "InMemory",
    "InProcess",
    "Store",
    "Workers",
    "domains_wanted",
    "estimate_in_parts",
]
