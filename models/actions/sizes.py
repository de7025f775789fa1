"""The sizes of a design: listing, adding, changing and deleting them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions.actor import Actor
from models.actions.keep_designs import require_unnamed
from models.domain.errors import Fault, Invalid, NotFound
from models.domain.quantities import DECREASES_PER_ROUND
from models.domain.roles import Action
from models.domain.sizes import (
    COLUMNS,
    LONGEST_LABEL,
    MOST_SIZES,
    NUMBERS,
    is_complete,
    require_possible,
)
from models.domain.texts import required_name
from models.tables.socks import Design, Report, Size


def sizes_of(session: Session, design: Design) -> list[Size]:
    """Return the sizes of a design in its designer's order.

    Those that were only named in reports come last, oldest first.
    """
    query = select(Size).where(Size.group_id == design.group_id, Size.design_id == design.id)
    return sorted(session.scalars(query), key=lambda size: (unknown(size), size.position, size.id))


def unknown(size: Size) -> bool:
    """Return whether too little is known of a size to give it a default."""
    return not is_complete(numbers_of(size))


def numbers_of(size: Size) -> dict[str, Any]:
    """Return label and numbers of a size, by column."""
    return {name: getattr(size, name) for name in COLUMNS}


def own_size(session: Session, actor: Actor, design_id: str, size_id: str) -> Size:
    """Return a size of a design of the actor's group.

    Raises
    ------
    NotFound
        Where the design has no such size.

    """
    actor.require(Action.READ_GROUP)
    found = session.scalar(
        select(Size).where(
            Size.group_id == actor.group_id, Size.design_id == design_id, Size.id == size_id
        )
    )
    if found is None:
        raise NotFound("no such size")
    return found


def add_size(session: Session, actor: Actor, design: Design, given: Mapping[str, Any]) -> Size:
    """Add a size after the others of a design, or complete one that reports have named.

    Raises
    ------
    Invalid
        Where it cannot be knitted, is meant for nobody, or the design has it already.

    """
    actor.require(Action.KEEP_DESIGNS)
    require_possible(given)
    known = sizes_of(session, design)
    label = required_name("label", given["label"], LONGEST_LABEL)
    size = next((one for one in known if one.label == label), None)
    if size is not None and not unknown(size):
        raise Invalid([Fault("label", label, "the design has this size already; change that")])
    if size is None:
        _require_room(len(known) + 1)
        size = Size(group_id=actor.group_id, design_id=design.id, label=label)
        session.add(size)
    _write(size, given)
    size.position = 1 + max((one.position for one in known), default=0)
    session.flush()
    return size


def amend_size(session: Session, actor: Actor, size: Size, given: Mapping[str, Any]) -> None:
    """Change the given fields of a size.

    Raises
    ------
    Invalid
        Where it could not be knitted any more, or another size has the label; nothing is changed.

    """
    actor.require(Action.KEEP_DESIGNS)
    wanted = {**numbers_of(size), **given}
    missing = [q.name for q in NUMBERS if wanted[q.name] is None]
    if missing:
        raise Invalid(Fault(name, None, "a size needs it") for name in missing)
    require_possible(wanted)
    label = required_name("label", wanted["label"], LONGEST_LABEL)
    _require_free(session, size, label)
    size.label = label
    _write(size, wanted)
    if "position" in given:
        size.position = given["position"]
    session.flush()


def delete_size(session: Session, actor: Actor, size: Size) -> None:
    """Delete a size.

    Raises
    ------
    Conflict
        Where reports name it: they would lose what they are about.

    """
    actor.require(Action.KEEP_DESIGNS)
    require_unnamed(session, actor, Report.size_id == size.id, "size")
    session.delete(size)
    session.flush()


def put_sizes(
    session: Session, actor: Actor, design: Design, rows: Sequence[Mapping[str, Any]]
) -> tuple[int, int]:
    """Take in a whole size table in its order; return how many sizes are new and were changed.

    Sizes that the table leaves out stay, after the others.

    Raises
    ------
    Invalid
        Where there would be too many sizes.

    """
    actor.require(Action.KEEP_DESIGNS)
    known = {size.label: size for size in sizes_of(session, design)}
    labels = [row["label"] for row in rows]
    left = [size for label, size in known.items() if label not in labels]
    _require_room(len(labels) + len(left))
    changed = 0
    for position, row in enumerate(rows, start=1):
        size = known.get(row["label"])
        if size is None:
            size = Size(group_id=actor.group_id, design_id=design.id, label=row["label"])
            session.add(size)
        else:
            changed += any(getattr(size, name) != row.get(name) for name in COLUMNS)
        _write(size, row)
        size.position = position
    for position, size in enumerate(left, start=len(rows) + 1):
        size.position = position
    session.flush()
    return len([label for label in labels if label not in known]), changed


def _write(size: Size, given: Mapping[str, Any]) -> None:
    for quantity in NUMBERS:
        setattr(size, quantity.name, given[quantity.name])
    size.decreases_per_round = given.get(DECREASES_PER_ROUND.name)


def _require_room(number: int) -> None:
    if number > MOST_SIZES:
        raise Invalid([Fault("sizes", number, f"a design has at most {MOST_SIZES} sizes")])


def _require_free(session: Session, size: Size, label: str) -> None:
    other = session.scalar(
        select(Size.id).where(
            Size.group_id == size.group_id,
            Size.design_id == size.design_id,
            Size.label == label,
            Size.id != size.id,
        )
    )
    if other is not None:
        raise Invalid([Fault("label", label, "another size of this design has it")])
