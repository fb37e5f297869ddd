"""JSON Schemas of what the commands print with ``--json``, a file a command."""

from typing import Any


def schema_of(command: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a command's object.

    Examples
    --------
    >>> schema_of("check")["properties"]["schema"]["const"]
    'brasscap/check/1'
    """
    import json
    from importlib.resources import files

    text = (files("brasscap.commands") / "schemas" / f"{command}.json").read_text(
        encoding="utf-8"
    )
    made: dict[str, Any] = json.loads(text)
    return made


def empty_object(command: str) -> dict[str, Any]:
    """Return a command's object with nothing in it: every key, lists empty, else null.

    What a program reads has the same keys whether the command could answer or not.

    Examples
    --------
    >>> empty_object("adjust")["marks"]
    []
    """
    try:
        schema = schema_of(command)
    except FileNotFoundError:
        return {"schema": "brasscap/error/1"}
    made: dict[str, Any] = {}
    for key in schema["required"]:
        kinds = schema["properties"][key].get("type", "null")
        made[key] = [] if kinds == "array" else None
    return made | {"schema": schema["properties"]["schema"]["const"]}
