"""What a decision can do. Imports nothing, so that a command line can list it."""

ACTIONS = (
    "leave-out",
    "bring-back",
    "hold",
    "weight",
    "check-only",
    "rename",
    "reverse",
    "value",
    "unit",
    "reading",
    "multiplier",
    "criteria",
    "accept",
)
"""The closed list, in the order of the help page."""
