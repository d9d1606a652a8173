"""A wire between a browser and the server that can be cut and mended: what a shop's network does when somebody walks out of its reach."""

import socket
import threading
from types import TracebackType


class Wire:
    """Passes bytes from a port of its own to the server's and back, while it is whole."""

    def __init__(self, port: int) -> None:
        self._to = ("localhost", port)
        self._whole = True
        self._open: set[socket.socket] = set()
        self._door = socket.create_server(("localhost", 0))
        self.address = f"http://localhost:{self._door.getsockname()[1]}"
        threading.Thread(target=self._listen, daemon=True).start()

    def cut(self) -> None:
        """Nothing passes any more; what was under way is lost."""
        self._whole = False
        for end in list(self._open):
            _shut(end)

    def mend(self) -> None:
        """Everything passes again."""
        self._whole = True

    def _listen(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            if not self._whole:
                near.close()
                continue
            far = socket.create_connection(self._to)
            self._open |= {near, far}
            for source, sink in ((near, far), (far, near)):
                threading.Thread(target=self._pass, args=(source, sink), daemon=True).start()

    def _pass(self, source: socket.socket, sink: socket.socket) -> None:
        try:
            while data := source.recv(65536):
                sink.sendall(data)
        except OSError:
            _shut(source)
        _shut(sink)
        self._open.discard(source)

    def __enter__(self) -> "Wire":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        _shut(self._door)
        self._door.close()
        self.cut()


def _shut(end: socket.socket) -> None:
    """Close both ways; an end that is shut already stays so."""
    try:
        end.shutdown(socket.SHUT_RDWR)
    except OSError:
        end.close()
