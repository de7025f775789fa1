"""The real service on a free port of this machine, for as long as the demo runs."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from waitress.server import create_server

from service.app import create_app
from service.config import Settings

HOST = "127.0.0.1"


@contextmanager
def running(settings: Settings) -> Iterator[int]:
    """Serve on a free port, which is yielded, and stop afterwards."""
    app = create_app(settings)
    server = create_server(app, host=HOST, port=0, threads=2)
    worker = threading.Thread(target=server.run, daemon=True)
    worker.start()
    try:
        with app.extensions["heeldepth_jobs"].working():
            yield server.effective_port
    finally:
        # The loop must close what it is polling itself: closing under its feet is a race.
        server.task_dispatcher.shutdown()
        server.trigger.pull_trigger(server.close)
        worker.join(timeout=10)
        app.extensions["heeldepth"].close()
