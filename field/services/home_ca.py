"""Makes a home's own certificates: one authority that a phone is asked to trust once, and what the server shows.

Nothing here reads a clock, a disk or the network: certificates in, certificates out. The authority is bound, within
itself and critically, to names and addresses of a home's own network. That is what makes asking for trust decent: it
cannot vouch for any place on the open internet.

Source: RFC 5280, sections 4.2.1.1, 4.2.1.2, 4.2.1.9, 4.2.1.10 (key identifiers, basic and name constraints).
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

IPv4 = ipaddress.IPv4Address

CA_DAYS = 3652  # ten years: a phone is set up once in its life
# Phones take up to 825 days from an authority that its owner added, 398 from a public one (tests/reference).
LEAF_DAYS = 397
RENEW_DAYS = 30
CA_RENEW_DAYS = 30
EARLIER = dt.timedelta(days=2)  # a phone's clock may be behind
# Small computers without a battery begin in 1970: what they made then would never be good. Common practice.
CLOCK_FLOOR = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)

# RFC 6762 (local), RFC 8375 (home.arpa), RFC 6761 (localhost); RFC 1918, RFC 3927, RFC 1122 3.2.1.3.
NAMES_WITHIN = ("local", "home.arpa", "localhost")
NETWORKS_WITHIN = tuple(
    ipaddress.IPv4Network(text)
    for text in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
)


@dataclass(frozen=True, slots=True)
class Issued:
    """A certificate with its key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


@dataclass(frozen=True, slots=True)
class Plan:
    """What has to be made, and why, in a sentence; None: nothing has to."""

    ca: bool
    leaf: bool
    why: str | None


NOTHING = Plan(ca=False, leaf=False, why=None)


def is_within(ip: IPv4) -> bool:
    """Whether the home's authority may vouch for an address."""
    return any(ip in network for network in NETWORKS_WITHIN)


def plan_certificates(
    now: dt.datetime,
    ca: x509.Certificate | None,
    leaf: x509.Certificate | None,
    names: Sequence[str],
    ips: Sequence[IPv4],
) -> Plan:
    """Decide what has to be made.

    Args:
        now: aware; a clock before `CLOCK_FLOOR` is wrong, and nothing that is there is judged by it.
        ca, leaf: what there is; None: nothing.
        names: DNS names the leaf must hold.
        ips: addresses it must hold; those that the authority may not vouch for are left out.
    """
    if ca is None:
        return Plan(ca=True, leaf=True, why="This home has no certificate yet.")
    if leaf is not None and not is_issued_by(leaf, ca):
        leaf = None
    if leaf is None:
        return Plan(ca=False, leaf=True, why="The server has no certificate of this home yet.")
    if now >= CLOCK_FLOOR:
        if ca.not_valid_after_utc - now <= dt.timedelta(days=CA_RENEW_DAYS):
            return Plan(ca=True, leaf=True, why="This home's authority ends: every phone has to be set up anew.")
        if leaf.not_valid_after_utc - now <= dt.timedelta(days=RENEW_DAYS):
            return Plan(ca=False, leaf=True, why=f"The certificate ran until {leaf.not_valid_after_utc:%Y-%m-%d}.")
        if leaf.not_valid_before_utc > now:
            return Plan(ca=False, leaf=True, why="The certificate was made while this machine's clock was ahead.")
    held_names, held_ips = told_names(leaf)
    lacking = [name for name in names if name not in held_names]
    lacking += [str(ip) for ip in ips if is_within(ip) and ip not in held_ips]
    if lacking:
        return Plan(ca=False, leaf=True, why=f"The certificate did not hold {', '.join(lacking)}.")
    return NOTHING


def make_ca(now: dt.datetime, name: str) -> Issued:
    """Make a home's authority.

    Args:
        now: aware.
        name: what the home is called; it is what a phone's list of authorities shows.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    skid = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    # Two homes, or one made anew, may bear the same name: a few figures of the key tell them apart.
    subject = _called(f"Fellside at {name} ({skid.digest.hex()[:4]})")
    within = [
        *(x509.DNSName(text) for text in NAMES_WITHIN),
        *(x509.IPAddress(network) for network in NETWORKS_WITHIN),
    ]
    builder = (
        _begun(subject, subject, key.public_key(), now, CA_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted_subtrees=within, excluded_subtrees=None), critical=True)
        .add_extension(skid, critical=False)
    )
    return Issued(builder.sign(key, hashes.SHA256()), key)


def make_leaf(now: dt.datetime, ca: Issued, names: Sequence[str], ips: Sequence[IPv4]) -> Issued:
    """Make the certificate that the server shows, with a key of its own.

    Args:
        now: aware.
        names: DNS names, the chosen one first.
        ips: addresses; those that the authority may not vouch for are left out, for they would spoil the whole.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    ca_skid = ca.certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    # An address has to stand as an address: phones do not look for one among the names.
    holds = [*map(x509.DNSName, names), *(x509.IPAddress(ip) for ip in ips if is_within(ip))]
    until = ca.certificate.not_valid_after_utc
    builder = (
        _begun(_called(names[0]), ca.certificate.subject, key.public_key(), now, LEAF_DAYS, until)
        .add_extension(x509.SubjectAlternativeName(holds), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(ca_skid), critical=False)
    )
    return Issued(builder.sign(ca.key, hashes.SHA256()), key)


def is_issued_by(leaf: x509.Certificate, ca: x509.Certificate) -> bool:
    """Whether an authority signed a certificate."""
    try:
        leaf.verify_directly_issued_by(ca)
    except (ValueError, TypeError, InvalidSignature):
        return False
    return True


def told_names(leaf: x509.Certificate) -> tuple[set[str], set[IPv4]]:
    """Return the DNS names and the addresses that a certificate holds."""
    try:
        held = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return set(), set()
    ips = {ip for ip in held.get_values_for_type(x509.IPAddress) if isinstance(ip, IPv4)}
    return set(held.get_values_for_type(x509.DNSName)), ips


def fingerprint(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate in groups of four, as a person compares it with a phone's."""
    figures = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(figures[at : at + 4] for at in range(0, len(figures), 4))


def to_pem(issued: Issued, *chain: x509.Certificate) -> bytes:
    """Return key (PKCS#8) and certificates as one text: one file cannot be half of an old and half of a new pair."""
    key = issued.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    shown = [one.public_bytes(serialization.Encoding.PEM) for one in (issued.certificate, *chain)]
    return key + b"".join(shown)


def read_pem(text: bytes) -> Issued:
    """Return the first certificate of `to_pem` with its key.

    Raises: ValueError when it is none, or the two do not belong together.
    """
    key = serialization.load_pem_private_key(text, None)
    certificate = x509.load_pem_x509_certificates(text)[0]
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise ValueError("key and certificate do not belong together")
    return Issued(certificate, key)


def _called(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    now: dt.datetime,
    days: int,
    until: dt.datetime | None = None,
) -> x509.CertificateBuilder:
    begins = now.replace(microsecond=0) - EARLIER
    ends = begins + dt.timedelta(days=days, seconds=-1)  # RFC 5280, 4.1.2.5: both ends count
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(ends if until is None else min(ends, until))
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
