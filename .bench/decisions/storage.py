"""Results as JSON lines, so a long run can be stopped, read and added to."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from decisions.metrics import Marks
from decisions.run import Result


def append(path: Path, results: Iterable[Result]) -> None:
    """Add results to a file, one line each, written as they arrive."""
    with path.open("a", encoding="utf-8") as out:
        for result in results:
            out.write(json.dumps(_finite(asdict(result))) + "\n")
            out.flush()


def load(path: Path) -> list[Result]:
    """Read all results of a file."""
    with path.open(encoding="utf-8") as lines:
        return [_result(json.loads(line)) for line in lines]


def _finite(plain: dict[str, object]) -> dict[str, object]:
    """Write NaN, which JSON does not have, as null."""
    return {
        key: _finite(value)
        if isinstance(value, dict)
        else (None if isinstance(value, float) and math.isnan(value) else value)
        for key, value in plain.items()
    }


def _result(plain: dict[str, Any]) -> Result:
    marks = {key: math.nan if value is None else value for key, value in plain["marks"].items()}
    return Result(**{**plain, "marks": Marks(**marks)})
