"""Long bodies of requests on their way from the line to who reads them, past the HTTP library's buffer.

The library copies each piece of a body five times before anybody has it. Within a body whose length was announced there
is nothing for it to find, so such pieces are handed on as they came, and it is told how many bytes they were. The first
piece, the last one and all that is no such body are its own as before.

Public: `LongBodies`.
"""

from __future__ import annotations

import h11
from h11._readers import ContentLengthReader
from uvicorn.protocols.http.flow_control import HIGH_WATER_LIMIT
from uvicorn.protocols.http.h11_impl import H11Protocol

PIECE_BYTES = 1024 * 1024
"""What the system is asked for at a time amid a long body, for 256 KiB elsewhere: each piece is a turn of the loop."""


class LongBodies(H11Protocol):
    """HTTP/1.1 that hands pieces of a long body on as they come."""

    def data_received(self, data: bytes) -> None:
        """Take what came off the line."""
        body = self._body_under_way()
        if body is None or len(data) >= body._remaining:
            super().data_received(data)
            return
        self._unset_keepalive_if_required()
        body._remaining -= len(data)
        self._hand_on(data)

    def _body_under_way(self) -> ContentLengthReader | None:
        """What counts the bytes of the body that is being taken; None where the library must look at what comes."""
        conn = self.conn
        is_taken = conn.their_state is h11.SEND_BODY and conn.our_state is not h11.DONE
        if not is_taken or conn.client_is_waiting_for_100_continue or conn.trailing_data[0]:
            return None
        reader = conn._reader
        return reader if isinstance(reader, ContentLengthReader) else None

    def _hand_on(self, data: bytes) -> None:
        """As the class above does with a piece that the library found, but that nothing is copied."""
        cycle = self.cycle
        cycle.body = data if not cycle.body else cycle.body + data  # type: ignore[assignment]
        if len(cycle.body) > HIGH_WATER_LIMIT:
            self.flow.pause_reading()
        if hasattr(self.transport, "max_size"):  # of the loop that asks the system itself
            self.transport.max_size = PIECE_BYTES
        cycle.message_event.set()
