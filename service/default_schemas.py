"""What the service takes and answers about calibrated defaults, adoptions and test knits."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from models.actions.test_knits import MOST_SOCKS
from models.domain.foot import MEASUREMENT_NAMES
from models.domain.quantities import DECREASES_PER_ROUND, GAUGE, HEEL_STITCHES, YARN_WEIGHT
from models.domain.sections import SECTIONS
from models.domain.sizes import MOST_SIZES
from service.answers import Answer, Caveat, EvidenceCounts, page_of
from service.fields import Digits, Id, MayBeAbsent, Strict, YesOrNo

USUAL_SOCKS = 6


class YesOrNoWord(YesOrNo):
    """`true` or `false` in a query."""

    def _deserialize(self, value: Any, *args: Any, **options: Any) -> bool:
        known = {"true": True, "false": False}
        return super()._deserialize(known.get(value, value), *args, **options)


def _wishes(*, in_query: bool) -> dict[str, Any]:
    said = {
        "choose_plain": "Let plain rounds from 2 to 6 be chosen too.",
        "allow_jumps": "Let neighbouring sizes differ by more than two slow-decrease rounds.",
    }
    field = YesOrNoWord if in_query else YesOrNo
    return {
        name: field(load_default=False, metadata={"description": text})
        for name, text in said.items()
    }


DefaultsQuery = Strict.from_dict(_wishes(in_query=True), name="DefaultsQuery")

NewAdoption = MayBeAbsent.from_dict(
    {
        **_wishes(in_query=False),
        "sizes": fields.List(
            Id(),
            load_default=None,
            validate=validate.Length(1, MOST_SIZES, error=f"1 to {MOST_SIZES} ids of sizes"),
            error_messages={"invalid": "a list of ids of sizes", "null": "leave it out for all"},
            metadata={"description": "Ids of the sizes to change; all of them where left out."},
        ),
    },
    name="NewAdoption",
)
NewReversal = MayBeAbsent.from_dict({}, name="NewReversal")


class PlanQuery(Strict):
    """How many socks the designer can have knitted."""

    socks = Digits(
        load_default=USUAL_SOCKS,
        validate=validate.Range(1, MOST_SOCKS, error=f"a whole number from 1 to {MOST_SOCKS}"),
        error_messages={"invalid": f"a whole number from 1 to {MOST_SOCKS}"},
    )


def _form(*names: str) -> type[Schema]:
    wanted = f"one of {', '.join(names)}"
    form = fields.String(
        load_default=names[0],
        validate=validate.OneOf(names, error=wanted),
        error_messages={"invalid": wanted},
    )
    return Strict.from_dict({"form": form}, name=f"{names[-1].capitalize()}Form")


PatternForm = _form("text", "csv", "html")
TableForm = _form("csv", "xlsx")


class SizesTaken(Answer):
    """What a size table brought."""

    new = fields.Integer()
    changed = fields.Integer()


class Choice(Answer):
    """A heel and the shares of people it fits."""

    plain_rounds = fields.Integer()
    slow_decrease_rounds = fields.Integer()
    depth_mm = fields.Float()
    too_shallow = fields.Float()
    just_right = fields.Float()
    too_deep = fields.Float()
    words = fields.String()


class TargetFeet(Answer):
    """Whose feet a size was calibrated for."""

    source = fields.String(metadata={"description": "survey or group"})
    people = fields.Integer(allow_none=True)
    survey_share = fields.Float(
        metadata={"description": "Share of the survey in the size's range."}
    )


class Standing(Answer):
    """Reports that stand behind something; null where too few people stand behind them."""

    reports = fields.Integer(allow_none=True)
    people = fields.Integer(allow_none=True)
    withheld = fields.String(allow_none=True)


class Split(Answer):
    """Where a size could be split: on one side of the cut one round more or fewer."""

    measurement = fields.String()
    cut_mm = fields.Float()
    side = fields.String(metadata={"description": "above or below"})
    change = fields.Integer()
    gain = fields.Float()


class SizeDefault(Answer):
    """What one size has and what it should have."""

    size_id = fields.String()
    label = fields.String()
    today = fields.Nested(Choice)
    calibrated = fields.Nested(Choice)
    low = fields.Integer(
        metadata={"description": "With 80 % the best slow-decrease rounds are not fewer."}
    )
    high = fields.Integer(metadata={"description": "With 80 % they are not more."})
    feet = fields.Nested(TargetFeet)
    named = fields.Nested(Standing, metadata={"description": "Reports that name this size."})
    in_range = fields.Nested(Standing, metadata={"description": "Reports on feet in its range."})
    split = fields.Nested(Split, allow_none=True)
    warnings = fields.List(fields.Nested(Caveat))


class DesignDefaults(Answer):
    """The defaults of a design, size by size."""

    design_id = fields.String()
    name = fields.String()
    calibration_id = fields.String(allow_none=True)
    evidence = fields.Nested(EvidenceCounts)
    sizes = fields.List(fields.Nested(SizeDefault))
    left_out = fields.List(
        fields.String(), metadata={"description": "Sizes of which too little is known."}
    )
    cautions = fields.List(fields.String())


class AdoptedFigures(Answer):
    """What adopting can change of a size."""

    plain_rounds = fields.Integer()
    slow_decrease_rounds = fields.Integer()


class AdoptedChange(Answer):
    """One size before and after."""

    size_id = fields.String()
    label = fields.String()
    before = fields.Nested(AdoptedFigures)
    after = fields.Nested(AdoptedFigures)


class Adoption(Answer):
    """Calibrated defaults that a designer took over."""

    id = fields.String()
    adopted_by = fields.String(allow_none=True)
    calibration_id = fields.String(allow_none=True)
    changes = fields.List(fields.Nested(AdoptedChange))
    created_at = fields.DateTime()
    undone_at = fields.DateTime(allow_none=True)


Adoptions = page_of(Adoption, "Adoptions")


class FitShare(Answer):
    """The share of reports that are just right, with an 80 % interval."""

    reports = fields.Integer()
    just_right = fields.Float()
    low = fields.Float()
    high = fields.Float()


class Effect(Answer):
    """One size before and since its last adoption; null where fewer than 10 people reported."""

    size_id = fields.String()
    label = fields.String()
    adoption_id = fields.String()
    adopted_at = fields.DateTime()
    before = fields.Nested(FitShare, allow_none=True)
    since = fields.Nested(FitShare, allow_none=True)
    text = fields.String()


class Effects(Answer):
    """Whether adopting helped, size by size."""

    items = fields.List(fields.Nested(Effect))


PlannedFoot = Answer.from_dict(
    {name: fields.Integer() for name in MEASUREMENT_NAMES}, name="PlannedFoot"
)
PlannedSock = Answer.from_dict(
    {
        "number": fields.Integer(),
        "size_id": fields.String(),
        "label": fields.String(),
        "foot": fields.Nested(PlannedFoot, metadata={"description": "About such a foot."}),
        **{
            quantity.name: fields.Integer() if quantity.integer else fields.Float()
            for quantity in (
                YARN_WEIGHT,
                *GAUGE,
                HEEL_STITCHES,
                DECREASES_PER_ROUND,
                *(section.count for section in SECTIONS),
            )
        },
        "deliberate": fields.String(
            allow_none=True, metadata={"description": "shallow or deep: off on purpose."}
        ),
        "chance_wearable": fields.Float(
            metadata={"description": "Chance of a heel at most a little off."}
        ),
        "settled": fields.Float(
            metadata={"description": "Share of what is unsure that it is expected to settle."}
        ),
        "text": fields.String(),
    },
    name="PlannedSock",
)


class TestKnitPlan(Answer):
    """What to have test-knitted next, the most telling first."""

    design_id = fields.String()
    name = fields.String()
    calibration_id = fields.String(allow_none=True)
    socks = fields.List(fields.Nested(PlannedSock))
    settled = fields.Float()
    text = fields.String()
