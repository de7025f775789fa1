"""Whether whoever asks may found a group here.

A service on one's own machine is for whoever sits there. One that others reach would let any of
them fill its database, so there the operator says whether it may be so.
"""

from __future__ import annotations

from ipaddress import ip_address

from flask import current_app, request

from service.config import Settings

FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "Via")
"""Headers by which a request shows that somebody else passed it on (RFC 7239, RFC 9110 7.6.3)."""


def is_open() -> bool:
    """Return whether this request may found a group."""
    settings: Settings = current_app.config["HEELDEPTH"]
    if settings.group_creation != "local":
        return settings.group_creation == "open"
    passed_on = settings.trusted_proxies or any(name in request.headers for name in FORWARDED)
    return not passed_on and _is_loopback(settings.host) and _is_loopback(request.remote_addr)


def _is_loopback(host: str | None) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host or "").is_loopback
    except ValueError:
        return False
