"""The wider pool: sharing what a group learned as coefficients, and beginning with others'."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import sharing, wider_pool
from models.domain.roles import Action
from service import wider_schemas as schemas
from service.access import actor, needs
from service.idempotency import DOCUMENTED
from service.views import GroupView, Resources, answered
from service.work import session

blueprint = Resources("wider pool", "What groups learned, shared as coefficients and never rows.")

_POOL = "/groups/<hexid:group_id>/wider-pool"


def _pool(status: int = 200) -> Response:
    return answered(wider_pool.read_pool(session(), actor()), status)


@blueprint.route(_POOL)
class WiderPool(GroupView):
    """The wider pool as the group sees it."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, schemas.WiderPool)
    def get(self, group_id: str) -> Response:
        """Read whether calibrations begin with the wider pool, and what the group shares."""
        return _pool()


@blueprint.route(f"{_POOL}/contribution")
class Contribution(GroupView):
    """What the group shares."""

    @needs(Action.SHARE)
    @blueprint.arguments(schemas.NewContribution(), required=False)
    @blueprint.response(201, schemas.WiderPool)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str) -> Response:
        """Share the summary of the active calibration, in place of one shared before.

        It takes 50 people. Stewards of every group of this installation can read the summary and
        take it elsewhere; the group's name is not in it. It stays as it is until it is shared anew
        or revoked.
        """
        sharing.contribute(session(), actor())
        return _pool(201)

    @needs(Action.SHARE)
    @blueprint.response(204)
    def delete(self, group_id: str) -> None:
        """Stop sharing: the summary is gone at once, and next calibrations do without it."""
        sharing.revoke(session(), actor())


@blueprint.route(f"{_POOL}/use")
class PoolUse(GroupView):
    """Whether the group's calibrations begin with the wider pool."""

    @needs(Action.SHARE)
    @blueprint.arguments(schemas.NewPoolUse(), required=False)
    @blueprint.response(200, schemas.WiderPool)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, _given: Mapping[str, Any], group_id: str) -> Response:
        """Begin calibrations with the wider pool, from the next one on."""
        sharing.use_pool(session(), actor())
        return _pool()

    @needs(Action.SHARE)
    @blueprint.response(204)
    def delete(self, group_id: str) -> None:
        """Begin calibrations with geometry alone, from the next one on."""
        sharing.leave_pool(session(), actor())


@blueprint.route(f"{_POOL}/summaries")
class Summaries(GroupView):
    """The summaries that the group may begin with."""

    @needs(Action.SHARE)
    @blueprint.response(200, schemas.PooledSummaries)
    def get(self, group_id: str) -> Response:
        """Export the wider pool: each `summary` can be taken in by another installation."""
        return answered({"items": wider_pool.read_summaries(session(), actor())})

    @needs(Action.SHARE)
    @blueprint.arguments(schemas.NewSummary())
    @blueprint.response(201, schemas.PooledSummary)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Take in a summary from another installation, for this group alone.

        One of the same origin takes the place of the one before.
        """
        return answered(wider_pool.described(sharing.take_in(session(), actor(), given)), 201)


@blueprint.route(f"{_POOL}/summaries/<hexid:summary_id>")
class TakenSummary(GroupView):
    """A summary that the group took in."""

    @needs(Action.SHARE)
    @blueprint.response(204)
    def delete(self, group_id: str, summary_id: str) -> None:
        """Do without a summary that was taken in, from the next calibration on."""
        sharing.drop(session(), actor(), summary_id)
