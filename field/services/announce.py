"""Tells the home's network under which name the server is found, and finds out which addresses it has there.

Nobody but the machines of this network is told or asked (multicast DNS, RFC 6762 and 6763).
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import ifaddr
from zeroconf import (  # type: ignore[attr-defined]  # the first is public, but missing in their list of names
    AddressResolverIPv4,
    DNSQuestionType,
    Error,
    IPVersion,
    ServiceInfo,
    Zeroconf,
)

IPv4 = ipaddress.IPv4Address

KIND = "_https._tcp.local."
ASK_MS = 1500  # RFC 6762, 8.1 has a name probed for 750 ms; answers may wait for half a second
# Network cards that a machine makes for its own inner use come after those that a phone can reach. Common practice.
INNER = ("docker", "br-", "veth", "virbr", "lxc", "vmnet", "utun", "tun", "tap", "wg")


def list_addresses() -> list[IPv4]:
    """Return the IPv4 addresses of this machine that a phone may reach, the likeliest first; never the loopback."""
    found: list[tuple[bool, bool, int, IPv4]] = []
    try:
        cards = list(ifaddr.get_adapters())
    except OSError:
        return []  # as on a machine that has no network at all
    for at, card in enumerate(cards):
        for held in card.ips:
            if not isinstance(held.ip, str):
                continue  # IPv6: its private addresses change too often to be written on paper
            ip = IPv4(held.ip)
            if not (ip.is_loopback or ip.is_unspecified or ip.is_multicast):
                found.append((card.nice_name.startswith(INNER), ip.is_link_local, at, ip))
    return [ip for *_, ip in sorted(found)]


def describe(name: str, hosts: Sequence[str], port: int, ips: Sequence[IPv4]) -> list[ServiceInfo]:
    """Return what is told to the network: the service once, and each further name with the same addresses.

    Args:
        name: what the home is called.
        hosts: DNS names that end in .local, the chosen one first.
        port: where the server listens.
        ips: addresses that the names stand for.
    """
    return [
        ServiceInfo(
            KIND,
            f"Fellside at {name if at == 0 else host.removesuffix('.local')}.{KIND}",
            port=port,
            addresses=[ip.packed for ip in ips],
            properties={"path": "/"},
            server=f"{host}.",
        )
        for at, host in enumerate(hosts)
    ]


@contextmanager
def announcing(
    name: str, hosts: Sequence[str], port: int, ips: Sequence[IPv4], on: Sequence[IPv4] | None = None
) -> Iterator[str | None]:
    """Tell the network for the block.

    Args:
        name, hosts, port, ips: see `describe`.
        on: addresses of the network cards to speak on; None: `ips`.
    Yields: None; or one sentence why the network could not be told. The server goes on without.
    """
    if not ips:
        yield "This machine is on no network just now; its name is not announced."
        return
    teller: Zeroconf | None = None
    trouble: str | None = None
    try:
        cards = [str(ip) for ip in (ips if on is None else on)]
        for card in cards:
            _hold_once(card)
        teller = Zeroconf(interfaces=cards, ip_version=IPVersion.V4Only)
        if _is_taken(teller, hosts[0], ips):
            trouble = f"Another machine on this network is called {hosts[0]} already. --name gives this home another."
        else:
            for told in describe(name, hosts, port, ips):
                teller.register_service(told)
    except (OSError, Error):
        trouble = "The network could not be told the server's name; phones may need its address in figures."
    try:
        yield trouble
    finally:
        if teller is not None:
            teller.close()


def _hold_once(address: str) -> None:
    """Raise OSError for an address that went between being listed and being used."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as held:
        held.bind((address, 0))


def _is_taken(asker: Zeroconf, host: str, ips: Sequence[IPv4]) -> bool:
    """Whether a machine with other addresses than ours answers to a name; this machine's own answering is welcome."""
    other = AddressResolverIPv4(f"{host}.")
    # Asked so that all hear the answer: one to us alone might go to another program of this machine.
    heard = other.request(asker, ASK_MS, question_type=DNSQuestionType.QM)
    return heard and not set(other.parsed_addresses()) <= {str(ip) for ip in ips}
