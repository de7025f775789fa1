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
from models.actions.group_names import GroupNames, Named
from models.actions.reporters import reporters
from models.domain.errors import Fault
from models.domain.foot import MEASUREMENT_NAMES
from models.tables.base import new_id, now
from models.tables.bulk import in_parts, insert_columns
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
    def _of_group(self) -> GroupNames:
        """The names of the group, to which those of the file are added as they come."""
        return GroupNames.read(self._session, self._actor.group_id)

    def of_others(self, names: Sequence[str]) -> frozenset[str]:
        """Return which names are those of members who have joined, for whom nobody else records."""
        if self._actor.is_operator:
            return frozenset()
        return frozenset(name for name in set(names) if self._has_joined(name))

    def _has_joined(self, name: str) -> bool:
        same = self._of_group.same(name)
        return bool(same and same.person_id and same.id != self._actor.member_id)

    def unclear(self, names: Sequence[str]) -> dict[str, Fault]:
        """Return what is wrong with names that may mean more than one, or look like another's."""
        found, known = {}, self._of_group
        for name in dict.fromkeys(names):
            if known.same(name) is None:
                wrong = known.fault("reporter", name)
                if wrong is None:
                    known.add(Named("", name, None))
                else:
                    found[name] = wrong
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
