"""The local authority: what it vouches for, what it can't, and who can read its key.

Judged by OpenSSL, which is not what made it; and by a browser in the tests of pairing.
"""

from __future__ import annotations

import datetime as dt
import ssl
import subprocess
import sys
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, load_pem_private_key

from ebbline.cli.server import local_authority
from ebbline.cli.server.local_authority import Files
from ebbline.errors import EbblineError, InputError

NOW = dt.datetime.now(dt.UTC)
NAMES = ["track-laptop.local", "192.168.7.20", "203.0.113.9", "localhost", "::1"]


@pytest.fixture
def files(tmp_path: Path) -> Files:
    return Files(tmp_path / "tls")


def verified(files: Files, name: str, leaf: Path | None = None) -> bool:
    """Whether OpenSSL takes the server's certificate for this name."""
    kind = "-verify_ip" if name.replace(".", "").isdigit() or ":" in name else "-verify_hostname"
    strict = ["-x509_strict", "-purpose", "sslserver", "-CAfile", files.authority]
    told = subprocess.run(
        ["openssl", "verify", *strict, kind, name, leaf or files.server],
        capture_output=True,
        check=False,
    )
    return told.returncode == 0


def test_openssl_takes_it_for_every_name_and_no_other(files: Files) -> None:
    made = local_authority.make(files, NAMES, NOW)
    assert local_authority.names_of(made) == NAMES
    assert all(verified(files, name) for name in NAMES)
    assert not verified(files, "bank.example")
    assert not verified(files, "192.168.7.21")


def test_it_lasts_no_longer_than_phones_allow(files: Files) -> None:
    made = local_authority.make(files, NAMES, NOW)
    lasts = made.not_valid_after_utc - made.not_valid_before_utc
    assert dt.timedelta(days=390) < lasts <= dt.timedelta(days=396)
    assert made.not_valid_before_utc < NOW < made.not_valid_after_utc


@pytest.mark.skipif(sys.platform == "win32", reason="modes of files are POSIX's")
def test_keys_are_for_their_owner_alone(files: Files) -> None:
    local_authority.make(files, NAMES, NOW)
    for key in (files.authority_key, files.server_key):
        assert key.stat().st_mode & 0o777 == 0o600
    assert files.folder.stat().st_mode & 0o077 == 0
    assert sorted(file.name for file in files.folder.iterdir()) == [
        "authority-key.pem", "authority.pem", "server-key.pem", "server.pem",
    ]  # fmt: skip


def test_a_stolen_authority_key_cannot_vouch_for_anybody_elses_name(
    files: Files, tmp_path: Path
) -> None:
    local_authority.make(files, NAMES, NOW)
    key = load_pem_private_key(files.authority_key.read_bytes(), None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    authority = x509.load_pem_x509_certificate(files.authority.read_bytes())

    def forged(name: str) -> Path:
        own = ec.generate_private_key(ec.SECP256R1())
        leaf = (
            x509.CertificateBuilder()
            .subject_name(x509.Name([]))
            .issuer_name(authority.subject)
            .public_key(own.public_key())
            .serial_number(5)
            .not_valid_before(NOW - dt.timedelta(hours=1))
            .not_valid_after(NOW + dt.timedelta(days=9))
            .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=True)
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(
                x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()),
                critical=False,
            )
            .add_extension(
                x509.SubjectKeyIdentifier.from_public_key(own.public_key()), critical=False
            )
            .sign(key, hashes.SHA256())
        )
        file = tmp_path / f"{name}.pem"
        file.write_bytes(leaf.public_bytes(Encoding.PEM))
        return file

    assert verified(files, "other.local", forged("other.local"))  # so the forging works
    assert not verified(files, "bank.example", forged("bank.example"))
    assert not verified(files, "notlocal", forged("notlocal"))


def test_made_again_phones_need_nothing_new(files: Files) -> None:
    local_authority.make(files, NAMES, NOW)
    authority = files.authority.read_bytes()
    moved = ["track-laptop.local", "10.1.2.3"]
    local_authority.make(files, moved, NOW)
    assert files.authority.read_bytes() == authority
    assert verified(files, "10.1.2.3")
    assert not verified(files, "192.168.7.20")


def test_a_name_that_the_authority_was_not_made_for_needs_another_one(files: Files) -> None:
    local_authority.make(files, NAMES, NOW)
    server = files.server.read_bytes()
    for name in ("198.51.100.4", "track.example"):
        with pytest.raises(InputError, match="new-authority"):
            local_authority.make(files, [*NAMES, name], NOW)
        assert files.server.read_bytes() == server
    before = local_authority.fingerprint(files)
    local_authority.make(files, ["track.example"], NOW, anew=True)
    assert verified(files, "track.example")
    assert local_authority.fingerprint(files) != before


@pytest.mark.parametrize(
    "name", ["", "a b", "-", "https://x", "caf\u00e9.local", "a..b", "*.local"]
)
def test_what_is_no_name_is_refused(files: Files, name: str) -> None:
    with pytest.raises(InputError, match="--name"):
        local_authority.make(files, [name], NOW)
    assert not files.authority.exists()


def test_the_fingerprint_is_the_one_that_others_show(files: Files) -> None:
    local_authority.make(files, NAMES, NOW)
    told = subprocess.run(
        ["openssl", "x509", "-in", files.authority, "-noout", "-fingerprint", "-sha256"],
        capture_output=True,
        check=True,
        text=True,
    )
    assert told.stdout.strip().split("=")[1] == local_authority.fingerprint(files)


def test_python_can_serve_with_it(files: Files) -> None:
    local_authority.make(files, NAMES, NOW)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(files.server, files.server_key)


def test_what_is_missing_or_ends_soon_is_not_served_with(files: Files) -> None:
    with pytest.raises(EbblineError, match="ebbline certificate"):
        local_authority.served(files, NOW)
    local_authority.make(files, NAMES, NOW)
    assert local_authority.served(files, NOW)
    with pytest.raises(EbblineError, match="ends on"):
        local_authority.served(files, NOW + dt.timedelta(days=392))


def test_an_authority_that_has_ended_is_replaced(files: Files) -> None:
    local_authority.make(files, NAMES, NOW - dt.timedelta(days=6 * 365))
    old = files.authority.read_bytes()
    local_authority.make(files, NAMES, NOW)
    assert files.authority.read_bytes() != old
    assert verified(files, NAMES[0])
