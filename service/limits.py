"""How often somebody may ask for what costs much or could be tried out.

Counted by the library `limits`, which Flask-Limiter rests on: in memory, or in Redis where several
processes serve. Keys are digests, so that the store holds no name and no address.
"""

from __future__ import annotations

import hashlib
import ipaddress
import math
import time
from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from threading import Timer
from typing import Any, cast

from flask import Flask, current_app, request
from flask.typing import ResponseReturnValue
from flask_smorest import Blueprint
from limits import parse
from limits.errors import ConfigurationError, StorageError
from limits.storage import MemoryStorage, Storage, storage_from_string
from limits.strategies import MovingWindowRateLimiter

from models.domain.errors import Fault, Invalid, TooOften, Unavailable
from service.access import asker
from service.config import PREFIX, Settings

View = Callable[..., ResponseReturnValue]

SWEEP_S = 5
"""How long what has expired may stay in memory, at most."""


class Counted(StrEnum):
    """What is counted, each with a setting of its own name."""

    LOGIN = "login_limit"
    LOGIN_TOTAL = "login_total_limit"
    REPORTS = "report_limit"
    JOINING = "joining_limit"
    FOUNDING = "founding_limit"
    IMPORTS = "import_limit"
    EXPORTS = "export_limit"


class Limits:
    """The counters of one application."""

    def __init__(self, settings: Settings) -> None:
        self._window = MovingWindowRateLimiter(_storage(settings.rate_limit_storage_url))
        self._told = {what: str(getattr(settings, what)) for what in Counted}
        self._most = {what: parse(text) for what, text in self._told.items()}

    def count(self, what: Counted, whose: str) -> None:
        """Count one more of somebody's.

        Raises
        ------
        TooOften
            Where it is one too many.
        Unavailable
            Where the counters cannot be reached.

        """
        key = hashlib.sha256(whose.encode()).hexdigest()
        most = self._most[what]
        try:
            if self._window.hit(most, what.value, key):
                return
            free_at = self._window.get_window_stats(most, what.value, key).reset_time
        except StorageError as error:
            raise Unavailable("requests cannot be counted now; try again") from error
        wait = max(1, math.ceil(free_at - time.time()))
        raise TooOften(f"at most {self._told[what]} here; try again in {wait} s", wait)


class SeldomSwept(MemoryStorage):
    """Counts in memory, dropping what has expired every few seconds.

    The library would start a thread for nearly every hit, to do so within 10 ms.
    """

    @property
    def timer(self) -> Timer:
        """The thread that will drop what has expired."""
        return self._timer

    @timer.setter
    def timer(self, given: Timer) -> None:
        given.interval, given.daemon = SWEEP_S, True
        self._timer = given


def _storage(url: str) -> Storage:
    """Return where counts are kept; the URL may hold a password and is not shown."""
    if url.startswith("memory:"):
        return SeldomSwept(url, wrap_exceptions=True)
    try:
        return cast("Storage", storage_from_string(url, wrap_exceptions=True))
    except ConfigurationError as error:
        variable = f"{PREFIX}RATE_LIMIT_STORAGE_URL"
        wanted = "a store whose Python package is installed: pip install 'heeldepth[redis]'"
        raise Invalid([Fault(variable, url.partition(":")[0], wanted)]) from error


def register(app: Flask, settings: Settings) -> None:
    """Give an application its counters."""
    app.extensions["heeldepth_limits"] = Limits(settings)


IPV6_PREFIX = 64
"""Bits of an IPv6 address that are one household's or host's: it has all addresses below (RFC 6177
and RFC 4291, 2.5.1)."""


def address(*_given: object, **_path: object) -> str:
    """Return the address that asks, as far as trusted proxies tell it; an IPv6 /64 is one."""
    return one_address(request.remote_addr or "")


def one_address(text: str) -> str:
    """Return what stands for all addresses that are one caller's.

    >>> one_address("2001:db8:1:2::3"), one_address("::ffff:192.0.2.1"), one_address("192.0.2.1")
    ('2001:db8:1:2::/64', '192.0.2.1', '192.0.2.1')
    """
    try:
        found = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return text  # a socket of the file system has no address
    if found.version == 4:
        return str(found)
    mapped = found.ipv4_mapped
    return str(mapped or ipaddress.ip_network((found, IPV6_PREFIX), strict=False))


def person(*_given: object, **_path: object) -> str:
    """Return the person who asks, by whichever token or session."""
    return asker().person_id


def count_login(username: str) -> None:
    """Count one more try to log in: for the username from here, for it at all, from here at all.

    Raises
    ------
    TooOften
        Where one of the three is one too many.

    """
    # The address first: what is refused for it uses up nobody's tries.
    count(Counted.LOGIN_TOTAL, f"address {address()}")
    count(Counted.LOGIN, f"{username}\n{address()}")
    count(Counted.LOGIN_TOTAL, f"username {username}")


def count(what: Counted, whose: str) -> None:
    """Count one more of somebody's, and raise `TooOften` where it is one too many."""
    found: Limits = current_app.extensions["heeldepth_limits"]
    found.count(what, whose)


def counts(what: Counted) -> Callable[[View], View]:
    """Say in the document that an operation counts, by itself, what may be asked only so often."""

    def declare(view: View) -> View:
        declared: View = Blueprint.doc(**{"x-limit": what.value})(view)
        return declared

    return declare


def limited(what: Counted, whose: Callable[..., str]) -> Callable[[View], View]:
    """Let an operation be asked for only so often, and say so in the document.

    `whose` is given what the view is: below `arguments` that includes the body.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def checked(*args: Any, **path: Any) -> ResponseReturnValue:
            count(what, whose(*args, **path))
            return view(*args, **path)

        return counts(what)(checked)

    return decorate
