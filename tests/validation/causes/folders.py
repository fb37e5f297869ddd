"""Surveys of the examples through a folder and the command, and within one process.

Both must say the same, number for number; and the planted cause is looked for.
"""

import json
import os
import runpy
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.io.tables.load import load
from brasscap.networks.simulate import Blunder, simulate
from brasscap.reports.objects_suspects import suspects_object
from brasscap.suspected import labels_of, likeness_of, parted

_MAKERS = Path(__file__).parents[2] / "make_examples"
KINDS = {
    "harbour": ("set-up height", "baseline"),
    "mill": ("set-up height", "direction"),
    "tramway": ("level difference",),
}
_SIZES = {"direction": 120 * np.pi / 648000}
"""rad; of other kinds 60 mm."""


def through_folders(count):
    """Return how many said the same both ways, how many named the fault, and of all."""
    same = named = 0
    makers = runpy.run_path(str(_MAKERS))
    plans = {name: makers["planned"](name) for name in KINDS}
    sys.path.insert(0, str(_MAKERS))
    from survey import readings

    for seed in range(count):
        name = list(KINDS)[seed % 3]
        random = np.random.default_rng([seed, 4])
        blunder = _blunder(plans[name], name, random)
        network = simulate(plans[name], seed=seed, blunders=[blunder])
        texts = makers["EXAMPLES"][name].tables(readings(network))
        with TemporaryDirectory() as folder:
            for file, text in texts.items():
                (Path(folder) / file).write_text(text, "utf-8")
            said, told = by_command(folder), in_process(folder)
        same += said == told
        first = said["groups"][0]
        causes = [said["causes"][m - 1] for m in first["named"]]
        about = {name for cause in causes for name in cause["about"]}
        named += blunder.about in about
    sys.path.remove(str(_MAKERS))
    return same, named, count


def by_command(folder):
    """Return what the command prints as JSON of causes, groups and steps."""
    words = [sys.executable, "-m", "brasscap", "--job", folder, "--json", "suspects"]
    done = subprocess.run(
        words, capture_output=True, text=True, check=False, env=os.environ, cwd="/"
    )
    return _parts(json.loads(done.stdout))


def in_process(folder):
    loaded = load(Path(folder))
    found = suspects(estimate(loaded.network), labels_of(loaded))
    likeness = likeness_of(found, loaded)
    made = suspects_object(found, parted(found, loaded), (), likeness)
    return _parts(json.loads(json.dumps(made)))


def _parts(said):
    return {key: said[key] for key in ("causes", "groups", "steps", "stopped")}


def _blunder(plan, example, random):
    kind = str(random.choice(KINDS[example]))
    names = {
        "set-up height": plan.set_ups.name,
        "baseline": plan.vectors.name,
        "level difference": () if plan.levels is None else plan.levels.name,
    }
    for sights in plan.sights:
        names[sights.kind] = sights.name
    size = _SIZES.get(kind, 0.06)
    shift = (0.0, 0.0, size) if kind in ("set-up height", "baseline") else (size, 0, 0)
    return Blunder(kind, str(random.choice(names[kind])), shift)
