"""How much of a request's body the server takes in before anybody has looked at the request.

Waitress reads a whole request first, into a file where it is long: a stranger who begins many and
finishes none would fill the disk. So what a body may have is decided when its head is there. Long
ones are taken only where a file is expected and only from who may send one, and all unfinished ones
together have a limit. What is too long is not read at all: the application gets the head alone,
answers it in its own words, and the connection is closed.

References
----------
RFC 9112, section 6.3: a message with both Transfer-Encoding and Content-Length ought to be refused.

"""

from __future__ import annotations

import logging
import weakref
from typing import TYPE_CHECKING, Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.receiver import ChunkedReceiver, FixedStreamReceiver
from waitress.server import BaseWSGIServer
from waitress.utilities import Error

from service.body_limits import SHORT, Bounds, Budget
from service.logs import where_it_broke

if TYPE_CHECKING:
    from service.app import Service

log = logging.getLogger(__name__)


class Busy(Error):
    """Too many bodies are on their way."""

    code = 503
    reason = "Service Unavailable"


class BoundedRequest(HTTPRequestParser):
    """A request that is being received, no further than its body may go."""

    bounds: Bounds
    undecided = False
    """Whether it is to be asked if somebody may send a file."""
    waits = False
    """Whether that is being asked: no more is received meanwhile."""
    continues = False
    """Whether the client wants to be told to go on."""
    refused = False
    limit = 0
    body_rcv: FixedStreamReceiver | ChunkedReceiver | None
    _back: weakref.finalize[Any, Any] | None = None
    _own_back: weakref.finalize[Any, Any] | None = None

    def parse_header(self, header_plus: bytes) -> None:
        """Parse the head, and refuse one with two lengths."""
        super().parse_header(header_plus)
        both = self.chunked or "TRANSFER_ENCODING" in self.headers
        if both and "CONTENT_LENGTH" in self.headers:
            raise ParsingError("Content-Length and Transfer-Encoding do not go together")

    def received(self, data: bytes) -> int:
        """Receive more, and return how much was taken; the rest of a refused body is dropped."""
        in_head = not self.headers_finished
        consumed: int = super().received(data)
        if in_head and self.headers_finished and not self.error and self.body_rcv is not None:
            self._begin()
        elif self.chunked and self.limit and self.body_bytes_received > self.limit:
            if self.limit == self.bounds.usual:
                self.undecided = True
            else:
                self.refuse()
        return len(data) if self.refused else consumed

    def _begin(self) -> None:
        length = self.content_length
        if length > self.bounds.file:
            self.refuse()
        elif length > self.bounds.usual:
            self.undecided = True
        elif self.chunked or length > SHORT:
            self.hold(self.bounds.others, self.bounds.usual)

    def hold(self, budget: Budget, most: int) -> None:
        """Let the body have as many bytes, as far as there is room for all."""
        if self._back is not None:
            self._back()
        if budget.take(most):
            self.limit = most
            self._back = weakref.finalize(self, budget.give_back, most)
        else:
            self.error = Busy("many others are sending just now; try again in a minute")
            self._end()

    def hold_file(self, person_id: str) -> None:
        """Let the body be a file of a person, as far as there is room for it."""
        own = self.bounds.files_of(person_id)
        if own.take(1):
            self._own_back = weakref.finalize(self, own.give_back, 1)
            self.hold(self.bounds.files, self.content_length or self.bounds.file)
            self.limit = self.bounds.file
        else:
            self.error = Busy("your other files are still on their way; send this one after them")
            self._end()

    def refuse(self) -> None:
        """Leave the body alone: the application answers the head, and the connection is closed."""
        self.refused = True
        if self.chunked:
            self.headers["CONTENT_LENGTH"] = str(self.body_bytes_received or self.bounds.file + 1)
        if self.body_rcv is not None:
            self.body_rcv.getbuf().close()
        self.body_rcv = None
        self._end()

    def _end(self) -> None:
        self.completed, self.expect_continue = True, False
        self.headers["CONNECTION"] = "close"
        self.give_back()

    def give_back(self) -> None:
        """Give back the room that was held for the body."""
        for back in (self._back, self._own_back):
            if back is not None:
                back()

    def close(self) -> None:
        """Let go of the body."""
        super().close()
        self.give_back()


class _Admission:
    """Asks, in a thread that answers requests, whether somebody may send a file."""

    def __init__(self, channel: BoundedChannel, request: BoundedRequest) -> None:
        self._channel, self._request = channel, request

    def service(self) -> None:
        """Ask, and let the request go on or not."""
        try:
            sender = self._request.bounds.sender_of(self._request)
        except Exception as error:  # noqa: BLE001 - a thread of the server must go on
            name, frames = type(error).__name__, where_it_broke(error)
            log.error("%s on asking who sends a file\n%s", name, frames)  # noqa: TRY400 - as above
            sender = None
        self._channel.decided(self._request, sender)

    def cancel(self) -> None:
        """Do nothing: the server is about to end."""


class BoundedChannel(HTTPChannel):
    """A connection that reads bodies as far as they may go."""

    request: BoundedRequest | None

    def readable(self) -> bool:
        """Return whether more is wanted of the client now."""
        waits = self.request is not None and self.request.waits
        return bool(super().readable() and not waits)

    def received(self, data: bytes) -> bool:
        """Receive data; what wants to be a file waits until it is known who sends it."""
        taken = bool(super().received(data))
        request = self.request
        if request is not None and request.undecided:
            request.undecided, request.waits = False, True
            self.server.add_task(_Admission(self, request))
        return taken

    def send_continue(self) -> None:
        """Tell the client to go on, once it is known that it may."""
        if self.request is not None and self.request.undecided:
            self.request.continues, self.request.expect_continue = True, False
        else:
            super().send_continue()

    def handle_close(self) -> None:
        """Close the connection, and let go of what was not received to its end."""
        super().handle_close()
        unfinished, self.request = self.request, None
        if unfinished is not None:
            unfinished.close()

    def decided(self, request: BoundedRequest, sender: str | None) -> None:
        """Go on with a request of somebody who may send a file, or answer it as it is."""
        with self.requests_lock:
            request.waits = False
            if self.request is not request:
                return  # the client has hung up
            if sender is not None:
                request.hold_file(sender)
            else:
                request.refuse()
            if request.completed:
                self.request = None
                self.requests.append(request)
                self.server.add_task(self)
            elif request.continues:
                super().send_continue()
        self.server.pull_trigger()


def bound(server: Any, app: Service) -> None:
    """Have a server of an application receive bodies no further than they may go."""
    requests = type("BoundedRequest", (BoundedRequest,), {"bounds": Bounds(app)})
    channels = type("BoundedChannel", (BoundedChannel,), {"parser_class": requests})
    sockets = getattr(server, "map", None) or server._map  # several addresses have one each
    for each in (server, *sockets.values()):
        if isinstance(each, BaseWSGIServer):
            each.channel_class = channels
