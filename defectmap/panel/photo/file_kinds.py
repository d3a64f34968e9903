"""Which kinds of file are read, told by their first bytes, and which are refused: raw files and others."""

from __future__ import annotations

from defectmap.errors import UnreadablePhoto

READ_KINDS = "JPEG, PNG, TIFF, HEIC or WebP"
RAW_SUFFIXES = frozenset({
    ".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dcr", ".dng", ".erf", ".fff", ".iiq", ".kdc", ".mef", ".mos",
    ".mrw", ".nef", ".nrw", ".orf", ".pef", ".raf", ".raw", ".rw2", ".rwl", ".sr2", ".srf", ".srw", ".x3f",
})  # fmt: skip

_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
TIFF_MAGIC = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_RAW_MAGIC = (b"IIRO", b"IIRS", b"MMOR", b"IIU\0", b"FOVb", b"\0MRM")


def raw_file(name: str) -> UnreadablePhoto:
    """The refusal of a camera's raw file."""
    return UnreadablePhoto(f"{name} is a raw camera file; export it as JPEG or TIFF, without automatic tone.")


def refuse_unknown(data: bytes, name: str) -> None:
    """Refuse what is no picture of a kind that is read, by the first 64 bytes.

    Raises
    ------
    UnreadablePhoto
        Empty, a raw file of a camera, or of another kind.
    """
    if not data:
        raise UnreadablePhoto(f"{name} is empty; copy it from the camera or phone again.")
    if _is_raw(data, name):
        raise raw_file(name)
    known = (
        data.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", *TIFF_MAGIC))
        or (data[:4] == b"RIFF" and data[8:12] == b"WEBP")
        or (data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS)
    )
    if not known:
        raise UnreadablePhoto(f"{name} is not a picture that can be read; save it as {READ_KINDS}.")


def _is_raw(data: bytes, name: str) -> bool:
    suffix = "." + name.rpartition(".")[2].lower()
    known = data.startswith((b"\xff\xd8\xff", b"\x89PNG", b"RIFF"))
    return (
        data.startswith(_RAW_MAGIC)
        or data[4:12] == b"ftypcrx "
        or b"CCD-RAW" in data[:16]
        or (data[:4] in (b"II*\0", b"MM\0*") and data[8:10] == b"CR")
        or (suffix in RAW_SUFFIXES and not known)
    )
