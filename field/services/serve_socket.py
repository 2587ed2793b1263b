"""The socket a server listens on: nobody shares its port, and a phone that died without a word is noticed.

A line that is quiet looks the same as one whose other side is gone, for as long as nothing is sent. So the system is
told to ask on every line, and to give up what nobody answers. Lines taken from a listening socket do as it was told.
"""

from __future__ import annotations

import os
import socket

BACKLOG = 1024  # as the server's own

QUIET_S = 60  # a phone that thinks for a while is not asked: it would wake its radio
ASK_AGAIN_S = 15
ASKED = 4  # times, then it is gone: two minutes in all
UNHEARD_S = 120  # what was sent and never acknowledged

_TOLD = (
    ("TCP_KEEPIDLE", QUIET_S),
    ("TCP_KEEPALIVE", QUIET_S),  # the same under macOS's name
    ("TCP_KEEPINTVL", ASK_AGAIN_S),
    ("TCP_KEEPCNT", ASKED),
    ("TCP_USER_TIMEOUT", UNHEARD_S * 1000),
)


def listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens, from which workers take lines that end when the other side is gone.

    Args:
        host: address or name of this machine.
        port: one that `serve.find_free_port` found.
    Raises: OSError when it was taken meanwhile.
    """
    family, kind, proto, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    held = socket.socket(family, kind, proto)
    try:
        if os.name == "posix":  # elsewhere this option means sharing
            held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        notice_the_dead(held)
        held.bind(address)
        held.listen(BACKLOG)
        held.setblocking(False)
        held.set_inheritable(True)
    except BaseException:
        held.close()
        raise
    return held


def notice_the_dead(line: socket.socket) -> None:
    """Have the system end a line whose other side is gone, as far as this system can be told to."""
    line.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in _TOLD:
        option = getattr(socket, name, None)
        if option is not None:
            line.setsockopt(socket.IPPROTO_TCP, option, value)
