"""A block of socks as the regression sees them, each reporter's beside each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.learning.design import design
from models.learning.evidence import Column, Evidence
from models.learning.ordinal.reporters import Reporters
from models.learning.terms import LINEAR_COLUMNS


@dataclass(frozen=True)
class Socks:
    """Socks (n,) of a block's reporters, in their order, with the design's columns (n, q).

    `excess` and `ideal_sd` are in cm, as in `Design`; `weight` is what each has to say.
    """

    excess: Column
    columns: Column
    ideal_sd: Column
    score: Column
    weight: Column
    reporters: Reporters

    @property
    def linear(self) -> Column:
        """The columns (n, `LINEAR_COLUMNS`) that explain habits."""
        return self.columns[:, :LINEAR_COLUMNS]


def gathered_socks(evidence: Evidence, weight: Column) -> Socks:
    """Return the socks of a block of evidence; `weight` (R,) is that of its reporters' rows."""
    order = np.argsort(evidence.reporter, kind="stable")
    who = Reporters.from_sorted(evidence.reporter[order])
    worn = design({name: values[order] for name, values in evidence.columns.items()})
    return Socks(
        np.asarray(worn.excess),
        worn.columns,
        np.asarray(worn.ideal_sd),
        evidence.score[order],
        weight[who.of_row],
        who,
    )
