"""Loading without looking for garbage."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Look for no garbage meanwhile: what is loaded stays, and looking costs a tenth of it."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
