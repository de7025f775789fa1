"""What is stored: typed rows that know no rules, and the engine that they live in.

All rows are imported together: they refer to each other by the names of their tables, and one that
was never imported would be missing from the metadata.
"""

from models.tables import (
    accounts,
    adopted,
    erased,
    invitations,
    jobs,
    kept,
    learned,
    people,
    shared,
    socks,
)

__all__ = [
    "accounts",
    "adopted",
    "erased",
    "invitations",
    "jobs",
    "kept",
    "learned",
    "people",
    "shared",
    "socks",
]
