"""Where the site can be reached: a free port, and the addresses to tell people."""

from __future__ import annotations

import socket

USUAL_PORT = 8000
TRIES = 20


class NoPortError(Exception):
    """No port to listen on; the message says what to do."""


def listen(host: str, wanted: int | None) -> tuple[socket.socket, str]:
    """A bound socket, and a sentence when it is not the usual port.

    Parameters
    ----------
    wanted
        A port that was asked for by name is taken or refused; None means the usual one or the next that is free.

    Raises
    ------
    NoPortError
    """
    if wanted is not None:
        try:
            return _bound(host, wanted), ""
        except OSError as error:
            raise NoPortError(
                f"Port {wanted} cannot be used ({error.strerror}). Set HELMROOM_PORT to another, or leave it out."
            ) from None
    for port in range(USUAL_PORT, USUAL_PORT + TRIES):
        try:
            said = f"Port {USUAL_PORT} is taken by another program; using {port}." if port != USUAL_PORT else ""
            return _bound(host, port), said
        except OSError:
            continue
    raise NoPortError(f"Ports {USUAL_PORT} to {USUAL_PORT + TRIES - 1} are all taken. Set HELMROOM_PORT to a free one.")


def _bound(host: str, port: int) -> socket.socket:
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((host, port))
        sock.listen(128)  # bound alone, a port that another program listens on can look free
    except OSError:
        sock.close()
        raise
    return sock


def network_address() -> str | None:
    """This machine's number on the club's network, or None. Nothing is sent to find it out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): a route is looked up, no packet leaves
            address = probe.getsockname()[0]
        except OSError:
            return None
    return None if address.startswith("127.") else address
