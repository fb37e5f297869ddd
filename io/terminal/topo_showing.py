"""``show shot``: one shot or made point, and the line down to the record."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.reports.document import Document
    from brasscap.reports.heading import Heading


def show_shot(
    loaded: "Loaded", control: "Adjustment", name: str, heading: "Heading"
) -> "tuple[Document, dict[str, Any]]":
    """Return all about a shot of topo/, a polar shot or a construction.

    Raises
    ------
    CommandError
        No point of that name.
    """
    from brasscap.adjust.follow.descent import descent_graph
    from brasscap.adjust.follow.topo import judge_topo
    from brasscap.io.tables.topo_load import load_topo
    from brasscap.reports.content_show_shot import chain, shot_document
    from brasscap.reports.objects_topo import shot_object

    topo = load_topo(loaded)
    if name not in topo.day.names:
        hint = nearest(name, topo.day.names)
        raise wrong(f"show shot: there is no shot {name!r}{hint}")
    judged = judge_topo(topo.day, control, loaded.job.topo)
    at = topo.day.names.index(name)
    kind = "shot" if at < topo.day.roots else "point"
    steps = chain(descent_graph(topo.day, control.network), (kind, name))
    return (
        shot_document(judged, at, steps, heading),
        shot_object(judged, at, steps),
    )
