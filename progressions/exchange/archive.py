"""Compressed MusicXML (.mxl): the score inside the zip archive, found as its container file says."""

from __future__ import annotations

import io
import zipfile
import zlib

from progressions.errors import ExchangeError
from progressions.exchange.tree import LARGEST_BYTES, read_xml

CONTAINER = "META-INF/container.xml"
_MAGIC = b"PK\x03\x04"


def is_archive(data: bytes) -> bool:
    return data.startswith(_MAGIC)


def score_in_archive(data: bytes, name: str) -> bytes:
    """The bytes of the score. Raises ExchangeError naming the file inside the archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            container = read_xml(_member(archive, CONTAINER, name), f"{name}, {CONTAINER}")
            rootfile = container.first("rootfiles", "rootfile")
            path = "" if rootfile is None else rootfile.attributes.get("full-path", "")
            if not path:
                raise ExchangeError(name, CONTAINER, "no rootfile", "the path of the score in the archive")
            return _member(archive, path, name)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError, ValueError) as error:
        if isinstance(error, ExchangeError):
            raise
        raise ExchangeError(name, "the archive", f"damaged ({error})", "a zip archive without password") from None


def _member(archive: zipfile.ZipFile, path: str, name: str) -> bytes:
    try:
        with archive.open(path) as member:
            data = member.read(LARGEST_BYTES + 1)  # by what comes out: sizes told inside an archive can lie
    except KeyError:
        raise ExchangeError(name, path, "no such file in the archive", "compressed MusicXML") from None
    if len(data) > LARGEST_BYTES:
        raise ExchangeError(name, path, "too large a score", f"at most {LARGEST_BYTES} bytes")
    return data
