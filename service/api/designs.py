"""Designs and their sizes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from models.actions import keep_designs, sizes
from models.domain.roles import Action
from models.tables.socks import Size
from service import design_schemas
from service.access import actor, needs
from service.idempotency import DOCUMENTED, forget
from service.schemas import Paging
from service.views import GroupView, Resources, answered, created, listed
from service.work import session

blueprint = Resources("designs", "Sock designs and the sizes they are printed in.")

_DESIGN = "/groups/<hexid:group_id>/designs/<hexid:design_id>"


@blueprint.route("/groups/<hexid:group_id>/designs")
class Designs(GroupView):
    """The designs of a group."""

    @needs(Action.READ_GROUP)
    @blueprint.arguments(Paging(), location="query")
    @blueprint.response(200, design_schemas.Designs)
    def get(self, paging: Mapping[str, Any], group_id: str) -> Response:
        """List the designs, oldest first."""
        return listed(
            keep_designs.list_designs(
                session(), actor(), after=paging["cursor"], limit=paging["limit"]
            )
        )

    @needs(Action.KEEP_DESIGNS)
    @blueprint.etag
    @blueprint.arguments(design_schemas.NewDesign())
    @blueprint.response(201, design_schemas.Design)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str) -> Response:
        """Make a design, to which sizes are added."""
        made = keep_designs.create_design(session(), actor(), given["name"])
        design = keep_designs.own_design(session(), actor(), made)
        _tag(design)
        body = keep_designs.described_design(design)
        return created(body, "designs.OneDesign", group_id=group_id, design_id=made)


@blueprint.route(_DESIGN)
@blueprint.etag
class OneDesign(GroupView):
    """One design."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, design_schemas.Design)
    def get(self, group_id: str, design_id: str) -> Response:
        """Read a design; its ETag is needed to change it."""
        design = keep_designs.own_design(session(), actor(), design_id)
        _tag(design)
        return answered(keep_designs.described_design(design))

    @needs(Action.KEEP_DESIGNS)
    @blueprint.arguments(design_schemas.DesignChange())
    @blueprint.response(200, design_schemas.Design)
    def patch(self, given: Mapping[str, Any], group_id: str, design_id: str) -> Response:
        """Give a design another name; designers and stewards may."""
        design = keep_designs.own_design(session(), actor(), design_id)
        _check(design)
        keep_designs.rename_design(session(), actor(), design, given["name"])
        _tag(design)
        return answered(keep_designs.described_design(design))

    @needs(Action.KEEP_DESIGNS)
    @blueprint.response(204)
    def delete(self, group_id: str, design_id: str) -> None:
        """Delete a design that no report names, with its sizes and their history."""
        design = keep_designs.own_design(session(), actor(), design_id)
        _check(design)
        for size in sizes.sizes_of(session(), design):
            forget(f"{request.path}/sizes/{size.id}")
        keep_designs.delete_design(session(), actor(), design)
        forget(request.path)


@blueprint.route(f"{_DESIGN}/sizes")
class Sizes(GroupView):
    """The sizes of a design."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, design_schemas.Sizes)
    def get(self, group_id: str, design_id: str) -> Response:
        """List all sizes in the designer's order; those only named in reports come last."""
        design = keep_designs.own_design(session(), actor(), design_id)
        return answered({"items": [_shown(size) for size in sizes.sizes_of(session(), design)]})

    @needs(Action.KEEP_DESIGNS)
    @blueprint.etag
    @blueprint.arguments(design_schemas.NewSize())
    @blueprint.response(201, design_schemas.Size)
    @blueprint.doc(parameters=[DOCUMENTED])
    def post(self, given: Mapping[str, Any], group_id: str, design_id: str) -> Response:
        """Add a size after the others, or complete one that reports have named."""
        design = keep_designs.own_design(session(), actor(), design_id)
        size = sizes.add_size(session(), actor(), design, given)
        _tag(size)
        path = {"group_id": group_id, "design_id": design_id, "size_id": size.id}
        return created(_shown(size), "designs.OneSize", **path)


@blueprint.route(f"{_DESIGN}/sizes/<hexid:size_id>")
@blueprint.etag
class OneSize(GroupView):
    """One size."""

    @needs(Action.READ_GROUP)
    @blueprint.response(200, design_schemas.Size)
    def get(self, group_id: str, design_id: str, size_id: str) -> Response:
        """Read a size; its ETag is needed to change it."""
        size = sizes.own_size(session(), actor(), design_id, size_id)
        _tag(size)
        return answered(_shown(size))

    @needs(Action.KEEP_DESIGNS)
    @blueprint.arguments(design_schemas.SizeChange())
    @blueprint.response(200, design_schemas.Size)
    def patch(
        self, given: Mapping[str, Any], group_id: str, design_id: str, size_id: str
    ) -> Response:
        """Change a size: the fields given are changed, the others stay."""
        size = sizes.own_size(session(), actor(), design_id, size_id)
        _check(size)
        sizes.amend_size(session(), actor(), size, given)
        _tag(size)
        return answered(_shown(size))

    @needs(Action.KEEP_DESIGNS)
    @blueprint.response(204)
    def delete(self, group_id: str, design_id: str, size_id: str) -> None:
        """Delete a size that no report names."""
        size = sizes.own_size(session(), actor(), design_id, size_id)
        _check(size)
        sizes.delete_size(session(), actor(), size)
        forget(request.path)


def _shown(size: Size) -> dict[str, Any]:
    fixed = ("id", "version", "position", "created_at")
    return {**{name: getattr(size, name) for name in fixed}, **sizes.numbers_of(size)}


def _tag(row: Any) -> None:
    blueprint.set_etag({"id": row.id, "version": row.version})


def _check(row: Any) -> None:
    blueprint.check_etag({"id": row.id, "version": row.version})
