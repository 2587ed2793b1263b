"""What a phone gets before it trusts its home: its authority in the two forms that phones take, and the figures."""

from __future__ import annotations

import plistlib
import uuid
from dataclasses import dataclass

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.oid import NameOID

from field.services import home_ca

# The one namespace that makes the same profile of the same authority each time: a phone then takes it for the same.
PROFILES = uuid.uuid5(uuid.NAMESPACE_DNS, "profile.fellside.invalid")
FILE_NAME = "fellside-home.crt"


@dataclass(frozen=True, slots=True)
class PhoneSetup:
    """All that the setup page says; nothing of it is secret."""

    called: str  # as the phone will list the authority
    address: str  # the one to open once it is trusted
    in_figures: str | None  # the same server for a network that knows no names
    page: str  # where this page itself is found by a phone
    fingerprint: str
    until: str  # last day of the server's certificate, YYYY-MM-DD
    der: bytes  # the authority, for Android
    profile: bytes  # the authority, for iPhone and iPad


def describe_setup(ca: x509.Certificate, address: str, in_figures: str | None, page: str, until: str) -> PhoneSetup:
    """Return what the setup page says of an authority; for the other arguments see `PhoneSetup`."""
    called = str(ca.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)
    der = ca.public_bytes(serialization.Encoding.DER)
    return PhoneSetup(
        called=called,
        address=address,
        in_figures=in_figures,
        page=page,
        fingerprint=home_ca.fingerprint(ca),
        until=until,
        der=der,
        profile=_profile(der, called),
    )


def _profile(der: bytes, called: str) -> bytes:
    """Return the authority as a configuration profile.

    Source: Apple Developer, Device Management, "TopLevel" and "CertificateRoot" (keys and types).
    """
    whole, inner = (uuid.uuid5(PROFILES, part + der.hex()) for part in ("whole", "root"))
    root = {
        "PayloadType": "com.apple.security.root",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"fellside.home.{inner}",
        "PayloadUUID": str(inner).upper(),
        "PayloadDisplayName": called,
        "PayloadCertificateFileName": FILE_NAME,
        "PayloadContent": der,
    }
    profile = {
        "PayloadType": "Configuration",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"fellside.home.{whole}",
        "PayloadUUID": str(whole).upper(),
        "PayloadDisplayName": called,
        "PayloadDescription": "Lets this phone trust the Fellside server at home. It vouches for nothing beyond it.",
        "PayloadContent": [root],
    }
    return plistlib.dumps(profile)
