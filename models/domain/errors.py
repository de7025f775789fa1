"""The one tree of errors that this project raises on purpose.

Nothing here knows HTTP: `service/problems.py` maps each class to a status.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

WHOLE = "body"
"""The field of a fault that is about the whole input."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one field of an input.

    `field` is a path with dots (`foot.foot_length_mm`), `value` what was given (None where the
    field was missing) and `wanted` a phrase that says what would be right.
    """

    field: str
    value: object
    wanted: str

    def __str__(self) -> str:
        given = "is missing" if self.value is None else f"is {shown(self.value)}"
        return f"{self.field} {given}: {self.wanted}"

    @property
    def path(self) -> tuple[str, ...]:
        """The names on the way to the field; none where it is the whole input."""
        return () if self.field == WHOLE else tuple(self.field.split("."))

    def under(self, parent: str) -> Fault:
        """Return the same fault with `parent` put before its path."""
        return Fault(f"{parent}.{self.field}", self.value, self.wanted)

    def without(self, parent: str) -> Fault:
        """Return the same fault with `parent` taken off its path."""
        return Fault(self.field.removeprefix(f"{parent}."), self.value, self.wanted)


def shown(value: object, longest: int = 40) -> str:
    """Return `value` as an error message may show it: quoted if text, never long.

    >>> shown("24,5"), shown(7), shown("x" * 99)[-5:]
    ("'24,5'", '7', 'xx...')
    """
    if isinstance(value, (dict, list)):
        return f"{'an object' if isinstance(value, dict) else 'a list'} of {len(value)}"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a number of more than 30 digits"
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= longest else f"{text[: longest - 3]}..."


class HeeldepthError(Exception):
    """Root of the tree."""


class Invalid(HeeldepthError):
    """The input cannot be used; `faults` names every field that is wrong."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[Invalid], tuple[tuple[Fault, ...]]]:
        """Let it be raised in one process and caught in another."""
        return type(self), (self.faults,)


def require_all(*checks: Callable[[], object]) -> None:
    """Make all checks, and raise one `Invalid` with everything that they found."""
    faults: list[Fault] = []
    for check in checks:
        try:
            check()
        except Invalid as error:
            faults += error.faults
    if faults:
        raise Invalid(faults)


class Unauthenticated(HeeldepthError):
    """Nobody is known to be asking."""


class Forbidden(HeeldepthError):
    """The member's role does not allow the action."""


class NotFound(HeeldepthError):
    """No such thing, or not in a group that the member can see: the two must look alike."""


class Conflict(HeeldepthError):
    """The request contradicts what is stored."""


class Stale(Conflict):
    """What was to be changed has changed since it was read."""


class KeyReused(Conflict):
    """An idempotency key came back with another request."""


class Outdated(Conflict):
    """It was made by another version of this project and cannot be used any more."""


class TooOften(HeeldepthError):
    """Somebody asked more often than is good for all; `seconds` says how long to wait."""

    def __init__(self, message: str, seconds: int) -> None:
        self.seconds = seconds
        super().__init__(message)

    def __reduce__(self) -> tuple[type[TooOften], tuple[str, int]]:
        """Let it be raised in one process and caught in another."""
        return type(self), (str(self), self.seconds)


class Closed(HeeldepthError):
    """The operation is switched off in this installation."""


class Unavailable(HeeldepthError):
    """The database cannot answer now; trying again later may work."""


class Busy(Unavailable):
    """Others have the same done, or all that can be done at once."""
