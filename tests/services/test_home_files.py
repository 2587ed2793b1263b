"""A home's certificates on the disk: kept, renewed, private, and never replaced where phones would suffer."""

from __future__ import annotations

import datetime as dt
import stat
from ipaddress import IPv4Address

import pytest
from cryptography import x509

from field.core.errors import StoreTrouble
from field.services import home_ca, home_files

NOW = dt.datetime(2027, 3, 4, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
NAMES = ("hut.local", "localhost")
IPS = (IPv4Address("192.168.1.20"),)


def keep(data, now=NOW, names=NAMES, ips=IPS) -> home_files.Kept:
    return home_files.keep_certificates(data, now, "hut", names, ips)


def shown(kept: home_files.Kept) -> list[x509.Certificate]:
    return x509.load_pem_x509_certificates(kept.file.read_bytes())


def test_first_start_makes_both_and_the_next_makes_nothing(data_dir) -> None:
    first = keep(data_dir)
    second = keep(data_dir, NOW + DAY)
    assert first.why is not None
    assert second.why is None
    assert shown(second) == shown(first)
    assert shown(first)[1] == first.ca
    assert first.until == shown(first)[0].not_valid_after_utc


def test_renewal_changes_the_certificate_and_not_the_authority(data_dir) -> None:
    first = keep(data_dir)
    before = shown(first)
    late = first.until - 30 * DAY
    assert home_files.is_due(data_dir, late - DAY, NAMES, IPS) is None
    assert home_files.is_due(data_dir, late, NAMES, IPS) is not None
    second = keep(data_dir, late)
    assert second.until > first.until
    assert shown(second)[1] == before[1]
    assert shown(second)[0].public_key() != before[0].public_key()
    assert home_files.is_due(data_dir, late, NAMES, IPS) is None


def test_new_address_of_the_machine_is_due_and_taken_in(data_dir) -> None:
    keep(data_dir)
    moved = (IPv4Address("192.168.1.99"),)
    assert home_files.is_due(data_dir, NOW, NAMES, moved) is not None
    assert home_ca.told_names(shown(keep(data_dir, ips=moved))[0]) == (set(NAMES), set(moved))


def test_keys_are_for_their_owner_only(data_dir) -> None:
    kept = keep(data_dir)
    for path in (kept.file, kept.file.with_name(home_files.CA_FILE)):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(kept.file.parent.stat().st_mode) == 0o700


def test_damaged_server_certificate_is_simply_made_again(data_dir) -> None:
    first = keep(data_dir)
    first.file.write_bytes(first.file.read_bytes()[:300])
    again = keep(data_dir)
    assert again.why is not None
    assert again.ca == first.ca
    assert len(shown(again)) == 2


def test_authority_at_its_end_is_made_anew_and_phones_are_spoken_of(data_dir) -> None:
    first = keep(data_dir)
    assert first.is_first
    late = first.ca.not_valid_after_utc - 30 * DAY
    again = keep(data_dir, late)
    assert again.ca != first.ca
    assert not again.is_first
    assert "every phone has to be set up anew" in (again.why or "")
    assert again.until > first.ca.not_valid_after_utc


@pytest.mark.parametrize("left", [0, 100, 400])
def test_damaged_authority_is_said_and_never_replaced(data_dir, left: int) -> None:
    file = keep(data_dir).file.with_name(home_files.CA_FILE)
    whole = file.read_bytes()
    file.write_bytes(whole[:left])
    with pytest.raises(StoreTrouble, match="cannot be read") as refused:
        keep(data_dir)
    assert refused.value.code == "no-authority"
    assert file.read_bytes() == whole[:left]
    file.write_bytes(whole)
    assert keep(data_dir).why is None


def test_clock_that_fell_back_makes_nothing_but_spoils_nothing(data_dir) -> None:
    lost = dt.datetime(1970, 1, 1, 3, tzinfo=dt.UTC)
    with pytest.raises(StoreTrouble, match="clock says 1970-01-01"):
        keep(data_dir, lost)
    first = keep(data_dir)
    assert keep(data_dir, lost).why is None
    assert home_files.is_due(data_dir, lost, NAMES, IPS) is None
    assert shown(keep(data_dir)) == shown(first)
