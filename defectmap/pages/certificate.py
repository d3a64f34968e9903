"""The certificate with which this computer serves its own network: made on first use, kept, renewed in time.

It is signed by itself (X.509, RFC 5280; names after RFC 6125): no authority knows a shop's computer, so a
phone asks once. What it shows then can be held against the fingerprint that the program prints.
"""

from __future__ import annotations

import contextlib
import ipaddress
import os
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from defectmap.errors import DefectmapError

if TYPE_CHECKING:
    from cryptography import x509

DAYS, RENEWED_DAYS_BEFORE = 397, 30  # phones refuse a server's certificate that lasts longer than 398 days
ALWAYS = ("localhost", "127.0.0.1", "::1")


class CertificateError(DefectmapError):
    """The certificate cannot be made or kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Where certificate and key lie, and how the certificate is recognised."""

    certificate: Path
    key: Path
    fingerprint: str  # SHA-256, in pairs of hexadecimal digits


def certificate_for(names: Sequence[str], *, folder: Path, now: datetime | None = None) -> Certificate:
    """The kept certificate, or a new one where there is none, it ends soon, or lacks one of the names.

    Parameters
    ----------
    names : sequence of str
        Names and addresses under which this computer is called, beside `ALWAYS`.
    folder : Path
        Where it is kept; the key can be read by its owner alone.

    Raises
    ------
    CertificateError
        The folder cannot be written.
    """
    now = now or datetime.now(UTC)
    wanted = frozenset((*ALWAYS, *names))
    files = folder / "certificate.pem", folder / "key.pem"
    made = _kept(files[0], wanted, now) if files[1].exists() else None
    try:
        return _facts(made or _make(wanted, files, now), files)
    except OSError as error:
        raise CertificateError(
            f"The certificate cannot be kept in {folder} ({error.strerror}); make the folder writable."
        ) from error


def own_names(address: str) -> tuple[str, ...]:
    """Names and addresses under which the network may call this computer."""
    name = socket.gethostname()
    return tuple(dict.fromkeys((address, name, f"{name.partition('.')[0]}.local")))


def _kept(file: Path, wanted: frozenset[str], now: datetime) -> x509.Certificate | None:
    from cryptography import x509

    try:
        made = x509.load_pem_x509_certificate(file.read_bytes())
        names = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None
    held = {str(name.value) for name in names}
    fresh = made.not_valid_before_utc <= now <= made.not_valid_after_utc - timedelta(days=RENEWED_DAYS_BEFORE)
    return made if fresh and wanted <= held else None


def _make(wanted: frozenset[str], files: tuple[Path, Path], now: datetime) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "defectmap on this computer")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # clocks differ
        .not_valid_after(now + timedelta(days=DAYS - 1))
        .add_extension(x509.SubjectAlternativeName([_name(one) for one in sorted(wanted)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    secret = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    files[0].parent.mkdir(parents=True, exist_ok=True)
    _write(files[1], secret, mode=0o600)
    _write(files[0], made.public_bytes(serialization.Encoding.PEM), mode=0o644)
    return made


def _name(one: str) -> x509.GeneralName:
    from cryptography import x509

    with contextlib.suppress(ValueError):
        return x509.IPAddress(ipaddress.ip_address(one))
    return x509.DNSName(one.encode("idna").decode())


def _write(file: Path, data: bytes, *, mode: int) -> None:
    file.unlink(missing_ok=True)
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
        out.write(data)


def _facts(made: x509.Certificate, files: tuple[Path, Path]) -> Certificate:
    from cryptography.hazmat.primitives import hashes

    fingerprint = made.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(certificate=files[0], key=files[1], fingerprint=fingerprint)
