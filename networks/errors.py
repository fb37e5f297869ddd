"""Everything brasscap raises on purpose, each with its exit code.

* BrasscapError
    * CommandError: the command line is wrong (2)
    * InputError: the tables cannot be used; carries every fault found (3)
    * NoSolution: the observations leave something floating (4)
    * RecordDiffers: a record is not what was recorded (5)
    * MissingPart: an optional part, or a grid file, is not installed (6)
    * CannotWrite: a folder or file cannot be written (7)

A failed test is a result, never an exception.
"""

from collections.abc import Sequence

from .findings import Finding


class BrasscapError(Exception):
    """Base of every error that a user can cause and mend."""

    exit_code = 70


class CommandError(BrasscapError):
    """The command line asks for something that does not exist."""

    exit_code = 2


class InputError(BrasscapError):
    """The tables of a job cannot be used.

    Parameters
    ----------
    findings : sequence of Finding
        Every finding of every file, faults and queries, in file order.
    """

    exit_code = 3

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        faults = [f for f in self.findings if f.verdict == "fault"]
        super().__init__("; ".join(f"{f.where}: {f.slug}" for f in faults))


class NoSolution(BrasscapError):  # noqa: N818 - a state of the network, said as one
    """The network cannot be estimated.

    Parameters
    ----------
    problem : str
        What is wrong, in words.
    marks : sequence of str
        The marks that float or do not converge.
    freedoms : sequence of str
        What they are free to do: "shift in east", "shift in height" …
    mend : str
        What would settle it.
    """

    exit_code = 4

    def __init__(
        self,
        problem: str,
        marks: Sequence[str] = (),
        freedoms: Sequence[str] = (),
        mend: str = "",
    ) -> None:
        super().__init__(problem)
        self.problem = problem
        self.marks = tuple(marks)
        self.freedoms = tuple(freedoms)
        self.mend = mend


class RecordDiffers(BrasscapError):  # noqa: N818 - says what is so
    """A record is not, to the byte, what was recorded."""

    exit_code = 5


class MissingPart(BrasscapError):  # noqa: N818 - the part is missing, not wrong
    """An optional package or a grid file is not installed."""

    exit_code = 6


class CannotWrite(BrasscapError):  # noqa: N818 - says what could not be done
    """A file or folder cannot be written."""

    exit_code = 7
