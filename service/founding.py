"""Whether whoever asks may found a group here.

A service on one's own machine is for whoever sits there. One that others reach would let any of
them fill its database, so there the operator says whether it may be so.
"""

from __future__ import annotations

from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import current_app, request

from service.config import Settings

FORWARDED = ("forwarded", "via", "x-real-ip")
FORWARDED_PREFIX = "x-forwarded-"
"""Headers by which a request shows that somebody else passed it on (RFC 7239, RFC 9110 7.6.3; the
others are common practice)."""


def is_open() -> bool:
    """Return whether this request may found a group."""
    settings: Settings = current_app.config["HEELDEPTH"]
    if settings.group_creation != "local":
        return settings.group_creation == "open"
    here = (settings.host, request.remote_addr, _host_asked_for())
    passed_on = settings.trusted_proxies or any(map(_shows_a_proxy, request.headers.keys()))
    return not passed_on and all(map(_is_loopback, here))


def _shows_a_proxy(header: str) -> bool:
    return header.lower() in FORWARDED or header.lower().startswith(FORWARDED_PREFIX)


def _host_asked_for() -> str | None:
    """Return the host that the request names: another one's where a proxy passed it on as it was.

    It is also another one where a page of somebody else had its own name lead to this machine.
    """
    try:
        return urlsplit(f"//{request.host}").hostname
    except ValueError:
        return None


def _is_loopback(host: str | None) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host or "").is_loopback
    except ValueError:
        return False
