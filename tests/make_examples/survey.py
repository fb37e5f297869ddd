"""From the tables of an example to its simulated survey, and back to its tables.

An example is a module with FRAME, SEED, PLANTED, ``truth()`` (mark to north, east,
height) and ``tables(read)``, where ``read(kind, name)`` is what was observed. The
network comes from the tables themselves, by the same door as a user's job.
"""

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from brasscap.io.tables.load import load
from brasscap.networks.simulate import simulate


def files(example):
    """Return the files of an example with its planted blunder: name to text."""
    network = simulate(plan(example), seed=example.SEED, blunders=[example.PLANTED])
    return example.tables(readings(network))


def plan(example):
    """Return the network that the tables make, its marks at their true places.

    Twice: what a distance is worth depends on its length, which the first
    simulation gives.
    """
    read = nothing_yet
    for _ in range(2):
        network = loaded(example.tables(read))
        network = at_truth(network, example)
        read = readings(simulate(network, seed=example.SEED))
    return network


def loaded(texts):
    """Return the network of a folder with these files."""
    with TemporaryDirectory() as folder:
        for name, text in texts.items():
            (Path(folder) / name).write_text(text, "utf-8")
        return load(Path(folder)).network


def at_truth(network, example):
    """Return the network with its marks where they really are."""
    truth = example.truth()
    places = np.array([truth[name] for name in network.marks.name])
    true = example.FRAME.place(*places.T)
    return replace(network, marks=replace(network.marks, approximate=true))


def nothing_yet(kind, name):
    """Return a stand-in for a reading that is not simulated yet, m or rad."""
    if kind == "baseline":
        return np.zeros(3)
    return np.pi / 2 if kind == "zenith angle" else 100.0


def readings(network):
    """Return the reader of a network's observations: of kind and name, m or rad."""
    found = {
        ("baseline", name): delta
        for name, delta in zip(network.vectors.name, network.vectors.delta, strict=True)
    }
    for some in network.sights:
        for name, value in zip(some.name, some.value, strict=True):
            found[some.kind, name] = value
    if network.levels is not None:
        for name, rise in zip(network.levels.name, network.levels.rise, strict=True):
            found["level difference", name] = rise
    return lambda kind, name: found[kind, name]
