"""The ways through the pages of a group, by role."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flask import g, request

from models.actions.actor import Actor
from models.domain.roles import Action


@dataclass(frozen=True)
class Way:
    """A link to a part of a group's pages, for those who may do its action.

    `endpoint` is the page that it leads to; all pages of its blueprint belong to it, and of those
    named in `also`.
    """

    endpoint: str
    words: str
    action: Action
    also: tuple[str, ...] = ()

    @property
    def is_here(self) -> bool:
        """Whether the page that is shown belongs to this part."""
        return request.blueprint in (self.endpoint.partition(".")[0], *self.also)


WAYS: tuple[Way, ...] = (
    Way("group.overview", "Overview", Action.READ_GROUP),
    Way("asked.own_suggestions", "Suggestions", Action.READ_OWN),
    Way("tell.choose", "Tell", Action.RECORD),
    Way("socks.own_socks", "My socks", Action.READ_OWN),
    Way("learn.page", "Learn", Action.READ_GROUP),
    Way("calibration_pages.page", "Calibrations", Action.READ_GROUP),
    Way("design_pages.page", "Designs", Action.READ_GROUP, ("size_pages", "plan_pages")),
    Way("member_pages.page", "Members", Action.KEEP_MEMBERS),
    Way("review_pages.page", "Held reports", Action.REVIEW),
)
"""In the order of the links."""


@dataclass(frozen=True)
class Here:
    """The group whose page is shown, and what its member is there."""

    actor: Actor
    name: str

    @property
    def id(self) -> str:
        """The group's id."""
        return self.actor.group_id

    @property
    def ways(self) -> Iterator[Way]:
        """The links that this member may follow."""
        return (way for way in WAYS if self.actor.may(way.action))


def here() -> Here | None:
    """Return the group whose page is shown, or None."""
    return Here(g.actor, g.group_name) if "group_name" in g else None
