"""Reference tables: open to everybody."""

from __future__ import annotations

from typing import Any

from models.domain.yarn import YARN_WEIGHTS
from service import answers
from service.access import open_to_everybody
from service.views import Resources

blueprint = Resources("reference", "Tables that everybody may read.")


@blueprint.route("/yarn-weights")
@blueprint.response(200, answers.YarnWeights)
@open_to_everybody
def yarn_weights() -> dict[str, Any]:
    """List the yarn weights with their guideline gauge.

    Stitches per 4 inches of stockinette, and the same per 10 cm.
    """
    items = [
        {
            "number": weight.number,
            "name": weight.name,
            "stitches_per_4in_low": weight.stitches_per_4in[0],
            "stitches_per_4in_high": weight.stitches_per_4in[1],
            "stitches_per_10cm_low": round(weight.stitches_per_10cm[0], 1),
            "stitches_per_10cm_high": round(weight.stitches_per_10cm[1], 1),
        }
        for weight in YARN_WEIGHTS
    ]
    return {"source": "Craft Yarn Council, Standard Yarn Weight System", "items": items}
