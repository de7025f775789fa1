"""What those who keep the service running see of its jobs: how many, and whether they are done.

Counted when it is asked for, in the database: so every process tells the same of all of them.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator

from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from models.actions import job_counts
from models.tables.engine import Database

log = logging.getLogger(__name__)


class JobMetrics(Collector):
    """The jobs of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Yield figures; none where the database does not answer, as others are still of use."""
        try:
            with self._database.read() as session:
                counts = job_counts.by_kind_and_state(session)
                waiting = job_counts.seconds_waited(session)
        except (DBAPIError, PoolTimeout) as error:
            log.warning("jobs were not counted: %s", type(error).__name__)
            return
        jobs = GaugeMetricFamily(
            "heeldepth_jobs", "Jobs that are kept, by kind and state.", labels=("kind", "state")
        )
        for (kind, state), number in counts.items():
            jobs.add_metric((kind, state), number)
        yield jobs
        told = "How long the oldest job has waited to be begun."
        yield GaugeMetricFamily("heeldepth_jobs_waited_seconds", told, waiting)
