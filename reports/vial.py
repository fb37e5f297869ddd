"""The level vial: a straight tube, its lines the limits, its bubble the value.

The place of the bubble says the verdict by itself: between the lines it meets, on a
line it is a query, beyond a line it fails, and without a bubble nothing could show an
error. Colour comes last and adds nothing alone.
"""

from .document import Vial

SAID = {
    "meets": "bubble between the lines",
    "query": "bubble on the line",
    "fails": "bubble beyond the line",
    "unchecked": "no bubble",
}


def vial_text(vial: Vial, inside: int = 3) -> str:
    """Return the vial in characters.

    Parameters
    ----------
    vial : Vial
    inside : int
        Characters between the two lines.

    Examples
    --------
    >>> for verdict in SAID:
    ...     print(vial_text(Vial(verdict)))
    [ o ]
    [   o
    [   ] o
    [   ]
    >>> vial_text(Vial("query", low=True))
    'o   ]'
    """
    tube = " " * inside
    if vial.verdict == "meets":
        at = min(max(int(vial.place * inside), 0), inside - 1)
        return f"[{tube[:at]}o{tube[at + 1 :]}]"
    if vial.verdict == "query":
        return f"o{tube}]" if vial.low else f"[{tube}o"
    if vial.verdict == "fails":
        return f"o [{tube}]" if vial.low else f"[{tube}] o"
    return f"[{tube}]"


LEFT, RIGHT, BUBBLE = 22.0, 74.0, 8.0
"""Places of the two lines, and half the bubble's length, in a tube 96 long."""


def bubble_at(vial: Vial) -> float | None:
    """Return where the bubble's middle lies in the drawing, or None for no bubble.

    Examples
    --------
    >>> [bubble_at(Vial(verdict)) for verdict in SAID]
    [48.0, 74.0, 86.0, None]
    """
    if vial.verdict == "meets":
        room = RIGHT - LEFT - 2 * (BUBBLE + 2)
        return LEFT + BUBBLE + 2 + room * min(max(vial.place, 0.0), 1.0)
    if vial.verdict == "query":
        return LEFT if vial.low else RIGHT
    if vial.verdict == "fails":
        return 10.0 if vial.low else 86.0
    return None


def vial_svg(vial: Vial) -> str:
    """Return the vial as SVG for a page; its title says it in words."""
    at = bubble_at(vial)
    bubble = ""
    if at is not None:
        bubble = f'<ellipse class="bubble" cx="{at:.1f}" cy="12" rx="8" ry="5"/>'
    said = f"{vial.verdict}: {SAID[vial.verdict]}"
    return (
        f'<svg class="vial {vial.verdict}" viewBox="0 0 96 24" role="img" '
        f'aria-label="{said}"><rect class="tube" x="1" y="4" width="94" height="16" '
        f'rx="3"/>{bubble}<path class="lines" d="M{LEFT:g} 1V23M{RIGHT:g} 1V23"/></svg>'
    )
