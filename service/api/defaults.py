"""Calibrated defaults of a design: looking, adopting, undoing, and planning test knits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from models.actions import adoptions, effects
from models.actions.design_defaults import Wishes
from models.actions.keep_designs import own_design
from models.domain.roles import Action
from models.tables.socks import Design
from service import default_schemas as schemas
from service.access import actor, needs
from service.answers import Pending
from service.idempotency import DOCUMENTED
from service.results import result_text
from service.schemas import Paging
from service.views import GroupView, Resources, answered, listed, ready
from service.work import session

blueprint = Resources("defaults", "What every size of a design should have, and what to knit next.")

_DESIGN = "/groups/<hexid:group_id>/designs/<hexid:design_id>"


@blueprint.route(f"{_DESIGN}/defaults")
class Defaults(GroupView):
    """Today's and the calibrated default of every size."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(schemas.DefaultsQuery(), location="query")
    @blueprint.response(200, schemas.DesignDefaults)
    @blueprint.alt_response(202, schema=Pending, success=True)
    def get(self, wishes: Mapping[str, bool], group_id: str, design_id: str) -> Response:
        """Read what every size has, what suits most of its people, and why.

        It is worked out once for the same reports, sizes and calibration. Where that takes longer
        than a few seconds the answer is 202: ask again.
        """
        return ready(result_text(actor(), "defaults", design_id=_own(design_id).id, **wishes))


@blueprint.route(f"{_DESIGN}/adoptions")
class Adoptions(GroupView):
    """Calibrated defaults that were taken over."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, schemas.Adoptions)
    def get(self, paging: Mapping[str, Any], group_id: str, design_id: str) -> Response:
        """List the adoptions of a design, oldest first, those undone among them."""
        found = adoptions.list_adoptions(
            session(),
            actor(),
            _own(design_id),
            after=paging["cursor"],
            limit=paging["limit"],
        )
        return listed(found)

    @needs(Action.KEEP_DESIGNS)
    @blueprint.arguments(schemas.NewAdoption(), required=False)
    @blueprint.response(201, schemas.Adoption)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str, design_id: str) -> Response:
        """Adopt the calibrated defaults of all sizes or of some; designers and stewards may."""
        wishes = Wishes(given["choose_plain"], given["allow_jumps"])
        made = adoptions.adopt(session(), actor(), _own(design_id), wishes, given["sizes"])
        return answered(adoptions.read_adoption(session(), made), 201)


@blueprint.route(f"{_DESIGN}/adoptions/<hexid:adoption_id>/reversal")
class Reversal(GroupView):
    """Taking the latest adoption back."""

    @needs(Action.KEEP_DESIGNS)
    @blueprint.arguments(schemas.NewReversal(), required=False)
    @blueprint.response(200, schemas.Adoption)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(
        self, _given: Mapping[str, Any], group_id: str, design_id: str, adoption_id: str
    ) -> Response:
        """Undo the latest adoption that stands: its sizes get back what they had before."""
        undone = adoptions.undo(session(), actor(), _own(design_id), adoption_id)
        return answered(adoptions.read_adoption(session(), undone))


@blueprint.route(f"{_DESIGN}/effects")
class Effects(GroupView):
    """Whether adopting helped."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, schemas.Effects)
    def get(self, group_id: str, design_id: str) -> Response:
        """Read the share just right before and since each size's last adoption."""
        return answered({"items": effects.read_effects(session(), actor(), _own(design_id))})


@blueprint.route(f"{_DESIGN}/test-knit-plan")
class TestKnitPlan(GroupView):
    """What to have test-knitted next."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(schemas.PlanQuery(), location="query")
    @blueprint.response(200, schemas.TestKnitPlan)
    @blueprint.alt_response(202, schema=Pending, success=True)
    def get(self, asked: Mapping[str, int], group_id: str, design_id: str) -> Response:
        """Read which socks would make the defaults certain fastest, and what each would teach.

        Where working it out takes longer than a few seconds the answer is 202: ask again.
        """
        return ready(result_text(actor(), "plan", design_id=_own(design_id).id, **asked))


def _own(design_id: str) -> Design:
    return own_design(session(), actor(), design_id)
