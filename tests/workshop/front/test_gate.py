"""The gate on a network: TLS with the shop's own certificate, so many connections of one address, and no starving."""

import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from hidewright.workshop.front import certificate
from hidewright.workshop.front import gate as gates

pytest.importorskip("cryptography", reason="only a shop on a network needs it")

PATIENCE = 60


@pytest.fixture
def address(tmp_path: Path) -> Iterator[tuple[str, int]]:
    """A gate before a server that answers every connection with one line."""
    inner = socket.create_server(("127.0.0.1", 0))

    def answer() -> None:
        while True:
            try:
                connection, _ = inner.accept()
            except OSError:
                return
            with connection:
                connection.recv(1000)
                connection.sendall(b"HTTP/1.0 200 OK\r\n\r\nhello")

    threading.Thread(target=answer, daemon=True).start()
    tls, _ = certificate.context(tmp_path, ["shop.local", "192.168.1.9"])
    outer = socket.create_server(("127.0.0.1", 0))
    gate = gates.Gate(outer, inner.getsockname(), tls)
    where = outer.getsockname()
    gate.start()
    yield where
    gate.stop()
    gate.join(PATIENCE)
    inner.close()
    assert not gate.is_alive()


def ask(address: tuple[str, int], trusted: Path) -> bytes:
    context = ssl.create_default_context(cafile=trusted)
    plain = socket.create_connection(address, PATIENCE)
    with context.wrap_socket(plain, server_hostname="shop.local") as secure:
        secure.sendall(b"GET / HTTP/1.0\r\n\r\n")
        said = b""
        while part := secure.recv(1000):
            said += part
        return said


def test_it_serves_tls_to_who_trusts_the_certificate_and_to_nobody_in_plain(
    address: tuple[str, int], tmp_path: Path
) -> None:
    assert ask(address, tmp_path / certificate.CERTIFICATE).endswith(b"hello")
    with socket.create_connection(address, PATIENCE) as plain:
        plain.sendall(b"GET / HTTP/1.0\r\n\r\n")
        said = b""
        try:
            while part := plain.recv(1000):
                said += part
        except ConnectionError:
            said += b""
        assert b"hello" not in said
    with pytest.raises(ssl.SSLCertVerificationError):
        ask(address, Path(ssl.get_default_verify_paths().cafile or "/etc/ssl/certs/ca-certificates.crt"))


def test_a_stranger_who_holds_connections_open_gets_so_many_and_no_more(
    address: tuple[str, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gates, "MOST_OF_ONE", 5)
    idle = [socket.create_connection(address, PATIENCE) for _ in range(5)]
    refused = socket.create_connection(address, PATIENCE)
    try:
        assert refused.recv(10) == b""
    except ConnectionResetError:
        refused.close()
    for one in idle:
        one.close()
    # Those who let go make room again; how soon is the machine's affair.
    for _ in range(200):
        try:
            assert ask(address, tmp_path / certificate.CERTIFICATE).endswith(b"hello")
            break
        except (ConnectionError, ssl.SSLError):
            continue
    else:
        pytest.fail("nobody came in after the idle connections were gone")


def test_the_certificate_is_kept_made_anew_for_a_new_name_and_its_key_is_the_owner_s(tmp_path: Path) -> None:
    _, first = certificate.context(tmp_path, ["shop.local"])
    assert certificate.context(tmp_path, ["shop.local"])[1] == first
    assert certificate.context(tmp_path, ["shop.local", "10.0.0.7"])[1] != first
    assert (tmp_path / certificate.KEY).stat().st_mode & 0o077 == 0
    said = subprocess.run(
        ["openssl", "x509", "-in", str(tmp_path / certificate.CERTIFICATE), "-noout", "-fingerprint", "-sha256"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert said.strip().endswith(certificate.context(tmp_path, ["shop.local", "10.0.0.7"])[1])
