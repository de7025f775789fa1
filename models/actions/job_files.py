"""The files of jobs, kept in the database in pieces, so that every worker finds them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from models.tables.jobs import JobPiece

BYTES_IN_A_PIECE = 1 << 16


def keep_file(session: Session, group_id: str, job_id: str, file: IO[bytes]) -> int:
    """Keep a file with a job in place of the one it has, and return its bytes."""
    drop_files(session, [job_id])
    size = 0
    for number, piece in enumerate(pieces_of(file)):
        whose = {"group_id": group_id, "job_id": job_id}
        session.execute(insert(JobPiece), {**whose, "number": number, "content": piece})
        size += len(piece)
    return size


def pieces_of(file: IO[bytes]) -> Iterator[bytes]:
    """Yield what a file holds from here on, in pieces."""
    while piece := file.read(BYTES_IN_A_PIECE):
        yield piece


def kept_pieces(session: Session, job_id: str) -> Iterator[bytes]:
    """Yield the pieces of a job's file, one in memory at a time."""
    numbers = session.scalars(
        select(JobPiece.number).where(JobPiece.job_id == job_id).order_by(JobPiece.number)
    ).all()
    for number in numbers:
        own = (JobPiece.job_id == job_id, JobPiece.number == number)
        yield session.scalars(select(JobPiece.content).where(*own)).one()


def copy_to(session: Session, job_id: str, path: Path) -> None:
    """Write a job's file to a path."""
    with path.open("wb") as copy:
        copy.writelines(kept_pieces(session, job_id))


def drop_files(session: Session, job_ids: Iterable[str]) -> None:
    """Delete the files of jobs."""
    session.execute(delete(JobPiece).where(JobPiece.job_id.in_(list(job_ids))))
