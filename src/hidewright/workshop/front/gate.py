"""The gate on the shop's network: takes connections over TLS, counts them by address, and hands the bytes to the web server behind it.

The web server listens on this computer only. A stranger on the network gets so many connections and no more, must finish the
handshake and say something soon, and cannot starve the shop's own devices.
"""

import asyncio
import socket
import ssl
import threading
from collections import Counter
from contextlib import suppress

MOST_OF_ONE = 24
"""Connections of one address at once: a browser opens six for a page."""
MOST = 240
"""Connections of all addresses at once."""
HANDSHAKE, FIRST_WORD, IDLE = 10.0, 15.0, 120.0
"""Seconds for the handshake, for the first bytes of a request, and between any two bytes."""
PART = 2**16


class Gate(threading.Thread):
    """Takes connections on `listener` until `stop`, and passes them on to `inner` (host and port) in plain."""

    def __init__(self, listener: socket.socket, inner: tuple[str, int], context: ssl.SSLContext) -> None:
        super().__init__(daemon=True)
        self._listener, self._inner, self._context = listener, inner, context
        self._here: Counter[str] = Counter()
        self._loop = asyncio.new_event_loop()
        self._ending = asyncio.Event()

    def run(self) -> None:
        """Serve in this thread's own loop."""
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(self._serve())

    def stop(self) -> None:
        """Take no more connections."""
        self._loop.call_soon_threadsafe(self._ending.set)

    async def _serve(self) -> None:
        self._listener.setblocking(False)
        async with asyncio.TaskGroup() as tasks:
            ending = tasks.create_task(self._ending.wait())
            accepting = tasks.create_task(self._accept(tasks))
            await ending
            accepting.cancel()
            self._listener.close()

    async def _accept(self, tasks: asyncio.TaskGroup) -> None:
        while True:
            with suppress(ConnectionError):
                connection, address = await self._loop.sock_accept(self._listener)
                who = str(address[0])
                if self._here[who] >= MOST_OF_ONE or self._here.total() >= MOST:
                    connection.close()
                    continue
                self._here[who] += 1
                tasks.create_task(self._one(connection, who))

    async def _one(self, connection: socket.socket, who: str) -> None:
        try:
            reader, writer = await self._shake_hands(connection)
            await self._pass_on(reader, writer)
        except (OSError, TimeoutError, ssl.SSLError, asyncio.IncompleteReadError):
            connection.close()
        finally:
            self._here[who] -= 1
            if not self._here[who]:
                del self._here[who]

    async def _shake_hands(
        self, connection: socket.socket
    ) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader = asyncio.StreamReader(loop=self._loop)
        protocol = asyncio.StreamReaderProtocol(reader, loop=self._loop)
        transport, _ = await self._loop.connect_accepted_socket(
            lambda: protocol, connection, ssl=self._context, ssl_handshake_timeout=HANDSHAKE
        )
        return reader, asyncio.StreamWriter(transport, protocol, reader, self._loop)

    async def _pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        back: asyncio.StreamWriter | None = None
        try:
            first = await asyncio.wait_for(reader.read(PART), FIRST_WORD)
            if not first:
                return
            answers, back = await asyncio.open_connection(*self._inner)
            back.write(first)
            both = [asyncio.ensure_future(_pump(reader, back)), asyncio.ensure_future(_pump(answers, writer))]
            _, left = await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
            for pump in left:
                pump.cancel()
            await asyncio.gather(*both, return_exceptions=True)
        finally:
            for end in (writer, back):
                if end is not None:
                    end.close()


async def _pump(source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
    while part := await asyncio.wait_for(source.read(PART), IDLE):
        to.write(part)
        await to.drain()
