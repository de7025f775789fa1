"""Keeping the service: the server and the workers."""

from __future__ import annotations

import gc
import signal
import sys
from contextlib import nullcontext
from functools import partial
from threading import Event
from typing import NoReturn

import click
import waitress

from models.domain.errors import Fault, Invalid
from models.tables.engine import FEW
from service.apart import Apart
from service.app import create_app
from service.bodies import bound
from service.calibrating import PATIENCE_S
from service.commands.loading import uncollected
from service.commands.opening import opened, require_upgraded, warn_where_others_read
from service.config import DATABASE, IN_PROCESS, PREFIX, Settings
from service.jobs.engine import Engine
from service.logs import write_logs

CONNECTIONS = 900
"""How many connections may be open at once: below the 1,024 files that a process usually may open.

With waitress's own 100, a hundred requests that are never finished keep everybody else out.
"""

IDLE_S = 60
"""After how many seconds without a word a connection is closed."""


NEVER = 2**63
"""A length that no body has: what one may have is decided by `service.bodies`."""


@click.command()
def serve() -> None:
    """Serve the pages and the REST interface until stopped.

    Work in the background is done as well, unless HEELDEPTH_JOBS leaves it to `heeldepth work`.
    """
    settings = Settings.from_environment()
    require_upgraded(settings, newer=True)
    warn_where_others_read(settings)
    write_logs(settings.logs)
    signal.signal(signal.SIGTERM, _stop)
    with uncollected():
        requests = _workroom(settings, PATIENCE_S)
        app = create_app(settings, requests, _workroom(settings))
        gc.freeze()  # what is there now stays, and is not looked through again while people wait
    try:
        server = waitress.create_server(
            app,
            host=settings.host,
            port=settings.port,
            threads=settings.threads,
            ident=None,
            connection_limit=CONNECTIONS,
            channel_timeout=IDLE_S,
            max_request_body_size=NEVER,
            asyncore_use_poll=True,  # select() would end at 1,024 files
            # Waitress would strip what a proxy says before the application can judge it. Without
            # a trusted one nothing goes by it, but that it was said: see founding.
            clear_untrusted_proxy_headers=False,
        )
    except (OSError, ValueError) as error:
        where = f"HEELDEPTH_HOST {settings.host}, HEELDEPTH_PORT {settings.port}"
        raise click.ClickException(f"cannot listen on {where}: {error}") from error
    bound(server, app)
    where = f"http://{settings.host}:{settings.port}"
    click.echo(f"Serving on {where}; for programs: {where}/docs")
    engine: Engine = app.extensions["heeldepth_jobs"]
    with engine.working() if settings.jobs == IN_PROCESS else nullcontext():
        try:
            server.run()
        finally:
            requests.close()  # what it was given a few seconds to finish ends now


@click.command()
def work() -> None:
    """Do work in the background until stopped, beside any number of `heeldepth serve`."""
    settings = Settings.from_environment()
    if settings.jobs == IN_PROCESS:
        wanted = (
            f"set it to {DATABASE} or to a Redis URL; as it is, `heeldepth serve` does the work"
        )
        raise Invalid([Fault(f"{PREFIX}JOBS", settings.jobs, wanted)])
    write_logs(settings.logs)
    told_to_stop = Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told_to_stop.set())
    connections = max(FEW, 3 * settings.workers)
    with opened(connections, newer=True) as database:
        with Engine(database, settings, _workroom(settings)).working():
            click.echo(f"Working on jobs, {settings.workers} at once.")
            told_to_stop.wait()


def _workroom(settings: Settings, patience_s: float = float("inf")) -> Apart:
    begin = partial(write_logs, settings.logs)
    return Apart(settings.database_url, settings.workers, begin, patience_s=patience_s)


def _stop(_signal: int, _frame: object) -> NoReturn:
    """Let waitress have 5 s to finish what it is answering, as it does for an interrupt."""
    sys.exit(0)
