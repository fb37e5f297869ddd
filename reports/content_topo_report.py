"""What the report says of a topographic day: verdicts, the worst, each class apart."""

from typing import TYPE_CHECKING

from .content_topo import basis_words, verdict_lines
from .content_topo_attach import broken_table, carriers_table
from .content_topo_detail import constructions_table, humps_table
from .content_topo_differences import classes_table, repeats_table
from .content_topo_initialisations import initialisations_table
from .content_topo_tables import spreads_table, worth_table
from .document import Paragraph, Part, Section
from .rounding import Units

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo

_DEFERS = (
    "Shots are no part of the adjustment: they hang on its marks, and a revision of a "
    "mark moves them. What nothing outside an initialisation checks is unchecked, "
    "however well it fits by itself."
)


def topo_sections(topo: "Topo | str | None", units: Units) -> tuple[Section, ...]:
    """Return the section on the shots; none where the job has none.

    Parameters
    ----------
    topo : Topo or str, optional
        The shots, judged, or why they cannot be.
    units : Units
    """
    if topo is None:
        return ()
    if isinstance(topo, str):
        return (Section("Shots", (Paragraph(topo),), "shots"),)
    from ..adjust.follow.descent import instruments

    parts: list[Part | None] = [
        *verdict_lines(topo),
        Paragraph(_DEFERS),
        Paragraph(basis_words(topo, units), "soft"),
        carriers_table(
            topo.hung, instruments(topo.day.polar, topo.hung.adjustment.network)
        ),
        broken_table(topo.hung),
        worth_table(topo, units),
        initialisations_table(topo),
        classes_table(topo, units),
        spreads_table(topo),
        repeats_table(topo, units),
        humps_table(topo, units),
        constructions_table(topo, units),
    ]
    shown = tuple(part for part in parts if part is not None)
    return (Section("Shots", shown, "shots"),)
