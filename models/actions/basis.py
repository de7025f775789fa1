"""What a calibration is made from: the reports of a pool, in memory or out of it in blocks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Integer, func, literal, select, type_coerce
from sqlalchemy.orm import Session

from models.actions.evidence import SAID, Pool, gathered
from models.actions.streams import READ_AT_ONCE, cut, whole_people
from models.learning.evidence import Column, Evidence
from models.learning.evidence_blocks import EvidenceBlocks
from models.learning.folds import Rows, compared_rows
from models.learning.ordinal.blocks import Blocks
from models.learning.spilled import Spilled
from models.tables.socks import Foot, Report

Hold = Callable[[Iterator[Evidence]], Blocks[Evidence]]
"""Takes blocks as they come, and holds them in memory, in files or on a cluster."""


@dataclass(frozen=True)
class Basis:
    """Evidence, its fingerprint, and of it the reports that calibrations are compared on.

    `known` (n,) are those of the compared that were known before a moment, None where there is no
    such moment. `member_ids` are those of the reporters, in the order of their numbers.
    """

    evidence: EvidenceBlocks
    fingerprint: str
    compared: Evidence
    known: Rows | None
    member_ids: Sequence[str]

    def member_of(self, reporter: int) -> str:
        """Return the member id of a reporter's number in the evidence."""
        return self.member_ids[int(np.searchsorted(self.evidence.numbers, reporter))]


def by_size(session: Session, pool: Pool, known_until: datetime | None) -> Basis:
    """Return the reports of a pool: in memory, or those of a large group in files.

    This is how everybody calibrates who does not say otherwise.
    """
    blocks = cut(session, pool.condition).blocks
    gather = in_memory if blocks == 1 else InBlocks(blocks, Spilled.of)
    return gather(session, pool, known_until)


def in_memory(session: Session, pool: Pool, known_until: datetime | None) -> Basis:
    """Return the reports of a pool as one block in memory."""
    reports = gathered(session, pool)
    rows = compared_rows(reports.evidence.reporter)
    known = None if known_until is None else reports.before(known_until)[rows]
    return Basis(
        EvidenceBlocks.whole(reports.evidence),
        reports.evidence.fingerprint(),
        reports.evidence.only(rows),
        known,
        [*reports.members.values()],
    )


@dataclass(frozen=True)
class InBlocks:
    """Reads reports in about that many `blocks`, which `hold` takes."""

    blocks: int
    hold: Hold

    def __call__(self, session: Session, pool: Pool, known_until: datetime | None) -> Basis:
        """Return the reports of a pool; only one block of them is ever in memory."""
        # Only the command line reads in blocks; a server starts without what they are kept with.
        from models.learning.arrivals import Arrivals  # noqa: PLC0415

        reports = session.scalar(select(func.count()).where(pool.condition)) or 0
        if reports == 0:
            return in_memory(session, pool, known_until)
        most, members = -(-reports // self.blocks), list[str]()
        known = literal(0) if known_until is None else Report.updated_at <= known_until
        query = (
            select(Report.member_id, type_coerce(known, Integer), *SAID)
            .join(Foot, Foot.id == Report.foot_id)
            .where(pool.condition)
            .order_by(Report.member_id)
            .execution_options(yield_per=READ_AT_ONCE)
        )
        parts = session.connection().execute(query).partitions()
        arrived = Arrivals.of(whole_people((_coded(part, members) for part in parts), most))
        compared, seen = arrived.compared()
        return Basis(
            EvidenceBlocks.of(self.hold(arrived.blocks(most))),
            arrived.fingerprint(),
            compared,
            None if known_until is None else seen,
            [members[place] for place in np.argsort(arrived.number).tolist()],
        )


def _coded(part: Sequence[Any], members: list[str]) -> Column:
    """Return rows as numbers, members by their places in a list that grows as they come."""
    rows = []
    for member, *values in part:
        if not members or members[-1] != member:
            members.append(member)
        rows.append([len(members) - 1, *values])
    return np.array(rows, dtype=np.float64)
