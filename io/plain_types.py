"""Arrays that came by pickle, given numpy's own types again.

What is unpickled has a copy of its type; it is equal, but not the same object, and
``numpy.add.at`` and its like then work some thirty times slower.
"""

from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np


def with_plain_types(some: Any) -> Any:
    """Return records, tuples, lists and dictionaries with arrays of numpy's own types.

    Parameters
    ----------
    some : anything
        Just unpickled, and nobody else's: records are changed in place. Arrays of
        numbers share their memory with the ones returned.

    Examples
    --------
    >>> import pickle
    >>> came = pickle.loads(pickle.dumps(np.arange(3)))
    >>> came.dtype is np.dtype(np.int64), with_plain_types(came).dtype is came.dtype
    (False, False)
    >>> with_plain_types(came).dtype is np.dtype(np.int64)
    True
    """
    if isinstance(some, np.ndarray):
        plain = np.dtype(some.dtype.str)
        same = some.dtype is plain or some.dtype.hasobject
        return some if same else some.view(plain)
    if isinstance(some, dict):
        return {key: with_plain_types(value) for key, value in some.items()}
    if type(some) in (tuple, list):
        if not some or isinstance(some[0], str | int | float):
            return some
        return type(some)(with_plain_types(value) for value in some)
    if is_dataclass(some) and not isinstance(some, type):
        for field in fields(some):
            # Frozen for all others.
            object.__setattr__(
                some, field.name, with_plain_types(getattr(some, field.name))
            )
    return some
