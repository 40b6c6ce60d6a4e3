"""A certificate authority of this machine's own, for phones that trust it once.

What it may vouch for is written into it (RFC 5280, 4.2.1.10): this machine's names and private
addresses. So a phone that trusts it trusts nobody with a bank's name, even if its key is stolen.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from ebbline.errors import EbblineError, InputError
from ebbline.store.private import write_whole

LEAF_DAYS = 396  # phones refuse longer ones
AUTHORITY_DAYS = 5 * 365
LEFT_AT_LEAST_DAYS = 7  # of a leaf that is still served with
SLOW_CLOCK = dt.timedelta(hours=12)  # a phone's clock may be behind
OF_ANY_NETWORK_AT_HOME = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
    "fc00::/7", "fe80::/10", "::1/128",
)  # fmt: skip

Key = ec.EllipticCurvePrivateKey


@dataclass(frozen=True, slots=True)
class Files:
    """Where the four files are."""

    folder: Path

    @property
    def authority(self) -> Path:
        """The authority's certificate, for phones."""
        return self.folder / "authority.pem"

    @property
    def authority_key(self) -> Path:
        """Its key, for nobody."""
        return self.folder / "authority-key.pem"

    @property
    def server(self) -> Path:
        """The server's certificate."""
        return self.folder / "server.pem"

    @property
    def server_key(self) -> Path:
        """The server's key."""
        return self.folder / "server-key.pem"


def make(
    files: Files, names: list[str], now: dt.datetime, *, anew: bool = False
) -> x509.Certificate:
    """Make a certificate for these names and addresses, and the authority where there is none.

    Args:
        files: where to; the folder is made.
        names: host names and addresses; the first one is the machine's.
        now: the time, with its zone.
        anew: another authority in place of the one that phones may trust already.

    Returns:
        The server's certificate.

    Raises:
        InputError: a name is none, or one that the authority was not made for.
    """
    alternatives = [_general_name(name) for name in names]
    files.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    if anew or not files.authority.exists() or _authority(files).not_valid_after_utc <= now:
        _make_authority(files, names[0], alternatives, now)
    authority = _authority(files)
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    for name, alternative in zip(names, alternatives, strict=True):
        if not _permits(permitted, alternative):
            raise InputError(
                "--name",
                f"the authority that phones trust was not made for {name}; with --new-authority "
                "one is, and every phone has to trust it anew",
            )
    key = ec.generate_private_key(ec.SECP256R1())
    end = min(now - SLOW_CLOCK + dt.timedelta(days=LEAF_DAYS), authority.not_valid_after_utc)
    built = (
        _builder(names[0], authority.subject, key, now, end)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(
                authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
            ),
            critical=False,
        )
    )
    certificate = built.sign(_key(files.authority_key), hashes.SHA256())
    _write_key(files.server_key, key)
    write_whole(files.server, certificate.public_bytes(Encoding.PEM), 0o644)
    return certificate


def served(files: Files, now: dt.datetime) -> x509.Certificate:
    """The server's certificate, if it can be served with.

    Raises:
        EbblineError: there is none, or it ends soon.
    """
    if not (files.server.exists() and files.server_key.exists() and files.authority.exists()):
        raise EbblineError(f"there is no certificate in {files.folder}: run 'ebbline certificate'")
    certificate = x509.load_pem_x509_certificate(files.server.read_bytes())
    if certificate.not_valid_after_utc - now < dt.timedelta(days=LEFT_AT_LEAST_DAYS):
        raise EbblineError(
            f"the certificate ends on {certificate.not_valid_after_utc:%Y-%m-%d}: "
            "run 'ebbline certificate' again; phones need nothing new"
        )
    return certificate


def names_of(certificate: x509.Certificate) -> list[str]:
    """The names and addresses that a certificate is for, in its order."""
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [str(name.value) for name in found]


def fingerprint(files: Files) -> str:
    """The authority's SHA-256, as phones show it."""
    return _authority(files).fingerprint(hashes.SHA256()).hex(":").upper()


def _make_authority(
    files: Files, name: str, alternatives: list[x509.GeneralName], now: dt.datetime
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    title = f"Ebbline on {name}"[:64]
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, title)])
    networks = [ipaddress.ip_network(text) for text in OF_ANY_NETWORK_AT_HOME]
    for alternative in alternatives:
        if isinstance(alternative, x509.IPAddress):
            networks.append(ipaddress.ip_network(alternative.value))
    own = [a.value for a in alternatives if isinstance(a, x509.DNSName)]
    permitted: list[x509.GeneralName] = [
        *(x509.DNSName(dns) for dns in dict.fromkeys(["localhost", "local", *own])),
        *(x509.IPAddress(network) for network in dict.fromkeys(networks)),
    ]
    certificate = (
        _builder(title, subject, key, now, now + dt.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, hashes.SHA256())
    )
    _write_key(files.authority_key, key)
    write_whole(files.authority, certificate.public_bytes(Encoding.PEM), 0o644)


def _builder(
    name: str, issuer: x509.Name, key: Key, now: dt.datetime, end: dt.datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:64])]))
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - SLOW_CLOCK)
        .not_valid_after(end)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
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


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        pass
    labels = name.split(".")
    sound = all(
        label.isascii() and label.replace("-", "").isalnum() and label.strip("-") == label
        for label in labels
    )
    if not sound or len(name) > 253 or max(map(len, labels)) > 63:
        raise InputError("--name", f"{name!r} is neither a host's name nor an address")
    return x509.DNSName(name.lower())


def _permits(constraints: x509.NameConstraints, name: x509.GeneralName) -> bool:
    permitted = constraints.permitted_subtrees or []
    if isinstance(name, x509.IPAddress):
        address = ipaddress.ip_address(str(name.value))
        networks = [tree.value for tree in permitted if isinstance(tree, x509.IPAddress)]
        return any(address in ipaddress.ip_network(str(network)) for network in networks)
    domains = [tree.value for tree in permitted if isinstance(tree, x509.DNSName)]
    return any(f".{name.value}".endswith(f".{domain}") for domain in domains)


def _authority(files: Files) -> x509.Certificate:
    return x509.load_pem_x509_certificate(files.authority.read_bytes())


def _key(file: Path) -> Key:
    key = load_pem_private_key(file.read_bytes(), None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    return key


def _write_key(file: Path, key: Key) -> None:
    write_whole(file, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)
