"""Workers in processes of their own: the same result, a loss survived, bad input."""

import os
import pickle
import shutil
import subprocess
import sys
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust.cluster import InMemory, InProcess, estimate_in_parts
from brasscap.io.domain_files import FolderStore
from brasscap.networks import CannotWrite, CommandError
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country

ROOT = Path(__file__).parents[1]
needs_dask = pytest.mark.skipif(
    "distributed" not in sys.modules
    and subprocess.run(
        [sys.executable, "-c", "import distributed"], capture_output=True, check=False
    ).returncode
    != 0,
    reason="the extra cluster is not installed: pip install 'brasscap[cluster]'",
)


@pytest.fixture
def job(tmp_path):
    shutil.copytree(ROOT / "networks" / "examples" / "harbour", tmp_path / "job")
    return tmp_path / "job"


def arrays_in(some):
    if isinstance(some, np.ndarray):
        yield some
    elif isinstance(some, dict | tuple | list):
        for one in some.values() if isinstance(some, dict) else some:
            yield from arrays_in(one)
    elif is_dataclass(some):
        for field in fields(some):
            yield from arrays_in(getattr(some, field.name))


def test_a_domain_comes_back_with_arrays_of_numpys_own_types(tmp_path):
    """Else numpy.add.at would be thirty times slower on them."""
    network = simulate(country(60, set_ups=True), seed=3)
    store = FolderStore(tmp_path)
    estimate_in_parts(network, workers=InProcess(), store=store, domains=2)
    found = list(arrays_in(store.get(0)))
    assert len(found) > 20
    for one in found:
        assert one.dtype.hasobject or one.dtype is np.dtype(one.dtype.str)


@dataclass(frozen=True)
class Deadly(FolderStore):
    """A folder whose second domain, when first asked for, kills the worker."""

    def get(self, number):
        killed = self.folder / "killed"
        if number == 1 and not killed.exists():
            killed.touch()
            os._exit(9)
        return super().get(number)


@needs_dask
@pytest.mark.filterwarnings("default")
def test_a_worker_that_is_killed_is_replaced(tmp_path):
    """The result is that of one process, to the bit: what was lost is made again."""
    from brasscap.io.dask_workers import local_workers

    network = simulate(country(250), seed=1)
    store = Deadly(tmp_path / "domains")
    one = estimate_in_parts(network, workers=InProcess(), store=InMemory(), domains=4)
    said = []
    with local_workers(2) as workers:
        two = estimate_in_parts(
            network, workers=workers, store=store, domains=4, progress=said.append
        )
        condition = two.reciprocal_condition
    assert (store.folder / "killed").exists()
    assert np.array_equal(one.nodes.xyz, two.nodes.xyz)
    for number in one.numbers:
        left, right = one.store.kept(number), store.kept(number)
        assert left.keys() == right.keys()
        for name in left:
            np.testing.assert_array_equal(left[name], right[name], err_msg=name)
    assert condition == one.reciprocal_condition
    assert "4 of 4 domains" in said
    assert not list(store.folder.glob(".*"))


@needs_dask
@pytest.mark.filterwarnings("default")
def test_the_page_is_the_same_with_workers(job, capsys):
    assert main(["adjust", "--job", str(job), "--quiet"]) == 1
    alone = capsys.readouterr().out
    assert main(["adjust", "--job", str(job), "--quiet", "--workers", "1"]) == 1
    assert capsys.readouterr().out == alone
    names = [path.name for path in sorted((job / "results" / "domains").iterdir())]
    assert names[0] == "domain-0000.npz"
    assert names[-1] == "index.json"


@pytest.mark.parametrize("number", ["0", "-1", "two", "1.5"])
def test_a_number_of_workers_that_is_none(job, number, capsys):
    assert main(["adjust", "--job", str(job), f"--workers={number}"]) == 2
    assert "a whole number, 1 or more" in capsys.readouterr().err


def test_workers_and_a_scheduler_are_too_much(job, capsys):
    words = ["adjust", "--job", str(job), "--workers=2", "--scheduler=tcp://x:1"]
    assert main(words) == 2
    assert "give one" in capsys.readouterr().err


@needs_dask
@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "tcp://"])
def test_a_scheduler_that_does_not_answer(job, address, capsys, monkeypatch):
    monkeypatch.setattr("brasscap.io.dask_workers._ANSWER", 0.5)
    assert main(["adjust", "--job", str(job), f"--scheduler={address}"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "no scheduler answers" in said
    assert "start one" in said


def test_without_the_extra_its_name_is_said(job, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert main(["adjust", "--job", str(job), "--workers=2"]) == 6
    assert "brasscap[cluster]" in capsys.readouterr().err


@needs_dask
@pytest.mark.filterwarnings("default")
def test_a_scheduler_that_runs_already_is_used(job, capsys):
    """Workers of somebody else: the same page; of another version: refused."""
    from distributed import LocalCluster

    from brasscap.io.dask_workers import cluster_workers

    assert main(["adjust", "--job", str(job), "--quiet"]) == 1
    alone = capsys.readouterr().out
    settings = {
        "n_workers": 1,
        "threads_per_worker": 1,
        "dashboard_address": "127.0.0.1:0",
    }
    with LocalCluster(processes=False, **settings) as cluster:
        words = ["adjust", "--job", str(job), "--quiet"]
        assert main([*words, "--scheduler", cluster.scheduler_address]) == 1
        assert capsys.readouterr().out == alone
        there = cluster.scheduler_address, job
        refused = pytest.raises(CommandError, match=r"this is 9\.9")
        with refused, cluster_workers(*there, "9.9"):
            pass
    with (
        LocalCluster(processes=False, **settings | {"n_workers": 0}) as cluster,
        pytest.raises(CommandError, match="no workers"),
        cluster_workers(cluster.scheduler_address, job, "9.9"),
    ):
        pass


_AGAIN = """
import gc
from pathlib import Path
import distributed.utils as utils
import brasscap.io.dask_workers as workers
from brasscap.networks import CannotWrite, CommandError

def gathering(self, start=utils.LoopRunner._start_unlocked):
    if gc.isenabled():
        gc.collect()
    start(self)

workers._ANSWER = 0.3
utils.LoopRunner._start_unlocked = gathering
for address in ("nonsense", "tcp://", "tcp://127.0.0.1:9") * 2:
    try:
        with workers.cluster_workers(address, Path(), "1"):
            pass
    except CommandError:
        pass
print("asked", flush=True)
"""


@needs_dask
def test_a_client_that_failed_does_not_block_the_next():
    """Regression: gathered in the next one's start, it waited for it for ever."""
    asked = subprocess.run(
        [sys.executable, "-c", _AGAIN], capture_output=True, text=True, timeout=100
    )
    assert asked.stdout == "asked\n", asked.stderr


@pytest.mark.parametrize("elsewhere", [False, True])
def test_what_is_set_aside_comes_back_and_leaves_nothing(tmp_path, elsewhere):
    """In a file that has no name; pickled, as for another worker, it goes along."""
    store = FolderStore(tmp_path, elsewhere)
    value = [np.asfortranarray(np.arange(6.0).reshape(2, 3)), {"a": np.arange(3)}]
    aside = store.aside(value)
    for one in (aside, pickle.loads(pickle.dumps(aside))):
        back = one.back()
        assert np.array_equal(back[0], value[0])
        assert back[0].flags.f_contiguous
        assert np.array_equal(back[1]["a"], value[1]["a"])
    assert not list(tmp_path.iterdir())


def test_a_folder_that_takes_nothing_aside_is_named(tmp_path):
    with pytest.raises(CannotWrite, match="gone"):
        FolderStore(tmp_path / "gone").aside([1])
