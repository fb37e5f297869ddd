"""One thread of linear algebra inside, and whatever the caller had afterwards.

Each case is a process of its own: how many threads there are is read when it starts.
"""

import json
import os
import subprocess
import sys

import pytest

TOLD = """
import json, numpy, scipy.linalg
from brasscap.adjust.one_thread import _pools, one_thread

def told():
    return [pool.get() for pool in _pools()]

for pool in _pools():
    pool.set(2)
seen = [told()]
try:
    with one_thread:
        seen.append(told())
        with one_thread:
            seen.append(told())
        seen.append(told())
        raise ValueError
except ValueError:
    seen.append(told())

@one_thread
def inside():
    return told()

seen += [inside(), told()]
print(json.dumps(seen))
"""


def seen(**stated):
    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    environment = {k: v for k, v in os.environ.items() if k not in names} | stated
    done = subprocess.run(
        [sys.executable, "-c", TOLD],
        capture_output=True, text=True, check=True, cwd="/", env=environment,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_one_thread_inside_and_the_callers_afterwards():
    before, *inside, after, decorated, last = seen()
    if not before:
        pytest.skip("numpy here brings a library of linear algebra that is not known")
    assert before == [2] * len(before)
    ones = [1] * len(before)
    assert inside == [ones, ones, ones]
    assert decorated == ones
    assert after == last == before


def test_who_states_a_number_is_obeyed():
    """Nothing is set, so that nothing needs to be restored."""
    assert seen(OPENBLAS_NUM_THREADS="2") == [[]] * 7
