"""What phones ask of a server's certificate, held against the one a home makes.

Sources:
  Apple Support 103769, "Requirements for trusted certificates in iOS 13 and macOS 10.15": RSA of 2048 bits or more or
    ECC; a signature of the SHA-2 family; the DNS name in the subject alternative name; the purpose id-kp-serverAuth;
    at most 825 days.
  CA/Browser Forum, Baseline Requirements for TLS, 6.3.2 as of 2020-09-01: at most 398 days. It binds public
    authorities only; a home keeps it all the same, for some other program may not tell the two apart.
  RFC 5280, 4.1.2.2: a serial number is positive and of 20 octets at most.
"""

from __future__ import annotations

import datetime as dt
from ipaddress import IPv4Address

import pytest
from cryptography import x509
from cryptography.x509 import verification

from field.services import home_ca

NOW = dt.datetime(2027, 3, 4, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


@pytest.fixture(scope="module")
def ca() -> home_ca.Issued:
    return home_ca.make_ca(NOW, "hut")


@pytest.fixture(scope="module")
def leaf(ca: home_ca.Issued) -> x509.Certificate:
    return home_ca.make_leaf(NOW, ca, ["hut.local"], [IPv4Address("192.168.1.20")]).certificate


def test_days_are_within_every_limit(leaf) -> None:
    days = (leaf.not_valid_after_utc - leaf.not_valid_before_utc + dt.timedelta(seconds=1)) / DAY
    assert days <= 825  # Apple Support 103769
    assert days <= 398  # Baseline Requirements, 6.3.2
    assert days == 397  # a day in hand, for both ends count


def test_signature_key_purpose_and_name_are_what_apple_asks(leaf) -> None:
    assert leaf.signature_hash_algorithm.name == "sha256"  # SHA-2 family
    assert leaf.public_key().key_size == 256  # P-256
    purposes = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert [one.dotted_string for one in purposes] == ["1.3.6.1.5.5.7.3.1"]  # RFC 5280, 4.2.1.12: id-kp-serverAuth
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == ["hut.local"]


def test_serial_numbers_are_of_the_right_size_and_differ(ca, leaf) -> None:
    for one in (ca.certificate, leaf):
        assert 0 < one.serial_number < 1 << 159  # RFC 5280, 4.1.2.2
    assert ca.certificate.serial_number != leaf.serial_number


@pytest.mark.parametrize("subject", [x509.DNSName("hut.local"), x509.IPAddress(IPv4Address("192.168.1.20"))])
def test_strict_checker_of_web_certificates_builds_the_chain(ca, leaf, subject) -> None:
    store = verification.Store([ca.certificate])
    checker = verification.PolicyBuilder().store(store).time(NOW).build_server_verifier(subject)
    assert checker.verify(leaf, []) == [leaf, ca.certificate]


def test_strict_checker_refuses_what_this_authority_says_of_the_internet(ca) -> None:
    wrong = home_ca.make_leaf(NOW, ca, ["bank.example"], []).certificate
    checker = (
        verification.PolicyBuilder()
        .store(verification.Store([ca.certificate]))
        .time(NOW)
        .build_server_verifier(x509.DNSName("bank.example"))
    )
    with pytest.raises(verification.VerificationError):
        checker.verify(wrong, [])
