"""The name told to the home's network: by another program's eyes, and when it cannot be told."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from ipaddress import IPv4Address

from zeroconf import AddressResolverIPv4, IPVersion, ServiceInfo, Zeroconf

from field.services import announce

LOOPBACK = [IPv4Address("127.0.0.1")]
IPS = [IPv4Address("192.168.1.20"), IPv4Address("10.1.1.1")]
WAIT_MS = 5000


def test_name_is_found_on_the_network_and_not_taken_from_another_machine() -> None:
    # In a thread of its own: a browser test before this one may have left an event loop running in the main thread,
    # and the library asks in another way there. The server has none.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(_ask_for_the_name).result()


def _ask_for_the_name() -> None:
    asker = Zeroconf(interfaces=["127.0.0.1"], ip_version=IPVersion.V4Only)
    try:
        with announce.announcing("fs-hut", ["fs-hut.local"], 8420, IPS, on=LOOPBACK) as trouble:
            assert trouble is None
            found = ServiceInfo(announce.KIND, f"Fellside at fs-hut.{announce.KIND}")
            assert found.request(asker, WAIT_MS)
            assert (found.server, found.port) == ("fs-hut.local.", 8420)
            assert set(found.parsed_addresses()) == set(map(str, IPS))
            of_name = AddressResolverIPv4("fs-hut.local.")
            assert of_name.request(asker, WAIT_MS)
            assert set(of_name.parsed_addresses()) == set(map(str, IPS))

            other = [IPv4Address("192.168.1.21")]
            with announce.announcing("fs-hut", ["fs-hut.local"], 8420, other, on=LOOPBACK) as trouble:
                assert trouble is not None
                assert "fs-hut.local already" in trouble
    finally:
        asker.close()


def test_former_names_are_told_with_the_same_addresses() -> None:
    told = announce.describe("hut", ["hut.local", "barn.local"], 8420, IPS)
    assert [one.server for one in told] == ["hut.local.", "barn.local."]
    assert len({one.name for one in told}) == 2
    assert all(one.parsed_addresses() == [str(ip) for ip in IPS] and one.port == 8420 for one in told)


def test_network_that_cannot_be_told_is_said_in_one_sentence() -> None:
    nobodys = [IPv4Address("203.0.113.4")]  # RFC 5737: no machine has it
    with announce.announcing("hut", ["hut.local"], 8420, nobodys) as trouble:
        assert trouble is not None
        assert trouble.startswith("The network could not be told")


def test_machine_on_no_network_is_said_too() -> None:
    with announce.announcing("hut", ["hut.local"], 8420, []) as trouble:
        assert trouble is not None
        assert "on no network" in trouble


def test_own_addresses_are_those_that_others_reach() -> None:
    assert not any(ip.is_loopback for ip in announce.list_addresses())
