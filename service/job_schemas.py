"""What the service takes about jobs, and about files to take in or to make."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, validate

from models.actions.export_reports import Form
from service.fields import MayBeAbsent, Strict


class Flag(fields.Boolean):
    """True or false in a query."""

    def _deserialize(self, value: Any, *_args: Any, **_options: Any) -> bool:
        if value not in ("true", "false"):
            raise ValidationError("true or false")
        return bool(value == "true")


class ImportOptions(Strict):
    """How a file is taken in."""

    keep_good = Flag(
        load_default=False,
        metadata={"description": "Take the rows that are right and leave out the others."},
    )
    dry_run = Flag(
        load_default=False, metadata={"description": "Change nothing; say what would be done."}
    )


def _form(*forms: Form) -> Any:
    wanted = f"one of {', '.join(forms)}"
    return fields.String(
        load_default=Form.CSV.value,
        validate=validate.OneOf([form.value for form in forms], error=wanted),
        error_messages={"invalid": wanted, "null": wanted},
    )


class TemplateForm(Strict):
    """What kind of file to fill in."""

    form = _form(Form.CSV, Form.XLSX)


class ExportForm(Strict):
    """What kind of file to make."""

    form = _form(*Form)


NewExport = MayBeAbsent.from_dict({"form": _form(*Form)}, name="NewExport")
NewCancellation = MayBeAbsent.from_dict({}, name="NewCancellation")
