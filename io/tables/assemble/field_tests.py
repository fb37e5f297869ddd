"""topo/field_test.csv becomes columns: sets, and what is known of their two points."""

import numpy as np

from ....networks.covariances import Bools, Floats
from ....networks.field_tests import FieldSets
from ....networks.findings import Finding
from ....networks.shots import Labels, TopoOptions, labels
from ..spelling import nearest
from ..table import Table


def build_field_sets(
    table: Table | None, options: TopoOptions, findings: list[Finding]
) -> FieldSets | None:
    """Return the field tests of a job's rovers; None without the table.

    Parameters
    ----------
    table : Table or None
    options : TopoOptions
        Its sds are those of a test that states none.
    findings : list of Finding
        Every fault is added here.
    """
    if table is None or not len(table):
        return None
    words = [word or "rover" for word in table.word("test").tolist()]
    test = labels(words)
    return FieldSets(
        tuple(table.word("set")),
        test,
        labels(
            f"{words[i]}\0{series}" for i, series in enumerate(table.word("series"))
        ),
        table.instant("start"),
        _point(table, "first"),
        _point(table, "second"),
        _replaced(table, words, findings),
        _once(table, "distance", test, findings),
        _once(table, "rise", test, findings),
        _or(_once(table, "sd_plan", test, findings), options.sd_plan),
        _or(_once(table, "sd_height", test, findings), options.sd_height),
    )


def _point(table: Table, which: str) -> Floats:
    return np.stack(
        [table.number(f"{which}_{part}") for part in ("east", "north", "height")],
        axis=1,
    )


def _or(values: Floats, otherwise: float | None) -> Floats:
    return (
        values if otherwise is None else np.where(np.isnan(values), otherwise, values)
    )


def _once(table: Table, column: str, test: Labels, findings: list[Finding]) -> Floats:
    """Return (t,) what is booked of a whole test, in any of its rows."""
    values = table.number(column)
    made = np.full(len(test.names), np.nan)
    for i in np.flatnonzero(np.isfinite(values)).tolist():
        k = int(test.number[i])
        if np.isnan(made[k]):
            made[k] = values[i]
        elif values[i] != made[k]:
            findings.append(
                table.finding(
                    "field-test-value-differs",
                    "fault",
                    i,
                    (column,),
                    against=f"{made[k]:g} m, in an earlier row of test {test.names[k]}",
                    mend="one value a test; another rover or other points are another "
                    "test",
                )
            )
    return made


def _replaced(table: Table, test: list[str], findings: list[Finding]) -> Bools:
    """Return (n,) whether another set of its series took a set's place."""
    series, name = table.word("series"), table.word("set")
    number = {key: i for i, key in enumerate(zip(test, series, name, strict=True))}
    made = np.zeros(len(table), dtype=bool)
    replaces = table.word("replaces")
    for i in np.flatnonzero(replaces != "").tolist():
        at = number.get((test[i], series[i], replaces[i]), i)
        if at != i:
            made[at] = True
            continue
        own = [key[2] for key in number if key[:2] == (test[i], series[i])]
        findings.append(
            table.finding(
                "unknown-set",
                "fault",
                i,
                ("replaces",),
                against="another set of the same series",
                likely=nearest(str(replaces[i]), tuple(own)),
                mend="name the set that this one was taken in place of",
            )
        )
    return made
