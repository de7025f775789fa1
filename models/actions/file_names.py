"""Ids of the reporters, feet, designs and sizes that a file names, looked up or made once each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from models.actions import designs
from models.actions.actor import Actor
from models.actions.consents import consents
from models.actions.group_names import GroupNames, Named, looks_like
from models.actions.reporters import reporters
from models.domain.errors import Fault
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.texts import name_key
from models.tables.base import new_id, now
from models.tables.bulk import in_parts, insert_columns
from models.tables.people import Member
from models.tables.socks import Foot

Measured = tuple[Any, ...]
"""A member id and that member's measurements, in the order of the registry."""

_DesignAndSize = tuple[str | None, str | None]


class FileNames:
    """What a file names, in one group."""

    def __init__(self, session: Session, actor: Actor) -> None:
        self._session, self._actor = session, actor
        self._members: dict[str, str] = {}
        self._consents: dict[str, int | None] = {}
        self._designs: dict[_DesignAndSize, _DesignAndSize] = {}
        self._feet: dict[Measured, str] = {}
        self._with_feet: set[str] = set()

    @cached_property
    def of_others(self) -> frozenset[str]:
        """Names, as `name_key`, of members who have joined: this actor may not record for them."""
        if self._actor.is_operator:
            return frozenset()
        joined = select(Member.name).where(
            Member.group_id == self._actor.group_id,
            Member.person_id.is_not(None),
            Member.id != self._actor.member_id,
        )
        return frozenset(map(name_key, self._session.scalars(joined)))

    @cached_property
    def _of_group(self) -> GroupNames:
        """The names of the group, to which those of the file are added as they come."""
        return GroupNames.read(self._session, self._actor.group_id)

    def look_alikes(self, names: Sequence[str]) -> dict[str, Fault]:
        """Return what is wrong with names that nobody has and that look like another's."""
        found, known = {}, self._of_group
        for name in dict.fromkeys(names):
            other = known.look_alike(name)
            if other is not None:
                found[name] = looks_like("reporter", name, other)
            elif known.same(name) is None:
                known.add(Named("", name, None))
        return found

    def members(self, names: Sequence[str]) -> list[str]:
        """Return the member ids of reporters."""
        new = [name for name in dict.fromkeys(names) if name not in self._members]
        if new:
            found = reporters(self._session, self._actor, new)
            self._members |= found
            self._consents |= consents(self._session, list(found.values()))
        return [self._members[name] for name in names]

    def consents(self, member_ids: Sequence[str]) -> list[int | None]:
        """Return what holds for members that were named: the version each has agreed to."""
        return [self._consents[member_id] for member_id in member_ids]

    def designs(self, pairs: list[_DesignAndSize]) -> Iterator[list[str | None]]:
        """Yield the design ids and the size ids of pairs of names."""
        for pair in dict.fromkeys(pairs):
            if pair not in self._designs:
                self._designs[pair] = designs.named(self._session, self._actor, *pair)
        for part in (0, 1):
            yield [self._designs[pair][part] for pair in pairs]

    def feet(self, measured: list[Measured]) -> list[str]:
        """Return foot ids: the same measurements of the same reporter are the same foot."""
        self._look_up_feet({member for member, *_ in measured} - self._with_feet)
        new = {foot: new_id() for foot in dict.fromkeys(measured) if foot not in self._feet}
        if new:
            members, *measurements = zip(*new, strict=True)
            insert_columns(
                self._session.connection(),
                Foot.__table__,
                {
                    "id": list(new.values()),
                    "group_id": [self._actor.group_id] * len(new),
                    "member_id": members,
                    **dict(zip(MEASUREMENT_NAMES, measurements, strict=True)),
                    "created_at": [now()] * len(new),
                },
            )
            self._feet |= new
        return [self._feet[foot] for foot in measured]

    def _look_up_feet(self, members: set[str]) -> None:
        """Read the feet of members, each once: those of a file may be few of many."""
        columns = (getattr(Foot, name) for name in MEASUREMENT_NAMES)
        stored = select(Foot.id, Foot.member_id, *columns)
        for some in in_parts(members):
            theirs = (Foot.group_id == self._actor.group_id, Foot.member_id.in_(some))
            for foot_id, *foot in self._session.execute(stored.where(*theirs)):
                self._feet[tuple(foot)] = foot_id
        self._with_feet |= members
