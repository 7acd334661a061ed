"""Photos of sightings: taken in pieces, looked at, and kept anew without what a camera adds.

A photo is named by the SHA-256 of the bytes the phone holds. What has come of it lies in
``photos-coming`` until it is whole; then it is decoded, turned upright, and kept as JPEG in
``photos``, which every copy of the records takes along.
"""

from __future__ import annotations

import hashlib
import io
import os
import threading
from pathlib import Path

from PIL import Image, ImageOps
from sqlalchemy import select

from benchwalk.records.disk import sync_folder
from benchwalk.records.ledger import Ledgered
from benchwalk.records.seen import Sighting

PIECE = 256 * 2**10  # bytes of one request; own choice
LARGEST = 8 * 2**20  # bytes of a photo as sent; own choice
PIXELS = 40_000_000  # of a photo; own choice: more than a phone's camera gives
SIDE = 2048  # pixels of the longer side as kept; own choice
QUALITY = 85
FORMATS = ("JPEG", "PNG", "WEBP")
_ONE = threading.Lock()  # one piece at a time; a server is one process


class ElsewhereError(Exception):
    """The piece does not go on where the last one ended; ``have`` bytes are there."""

    def __init__(self, have: int) -> None:
        super().__init__(f"{have} bytes are there")
        self.have = have


class NoPhotoError(Exception):
    """The bytes are not those of the name, or no picture that is taken."""


def is_named(session: Ledgered, digest: str) -> bool:
    """Whether a sighting of the operation names this photo."""
    named = select(Sighting.id).where(Sighting.photo_sha256 == digest).limit(1)
    return session.scalars(named).first() is not None


def kept_at(folder: Path, digest: str) -> Path:
    """Where a photo is kept."""
    return folder / "photos" / digest[:2] / f"{digest}.jpg"


def have(folder: Path, digest: str) -> tuple[int, bool]:
    """Bytes that have come of a photo, and whether it is whole."""
    kept = kept_at(folder, digest)
    if kept.exists():
        return kept.stat().st_size, True
    coming = _coming(folder, digest)
    return (coming.stat().st_size if coming.exists() else 0), False


def add(folder: Path, digest: str, piece: bytes, at: int, size: int) -> tuple[int, bool]:
    """Add the next piece; bytes that have come, and whether the photo is whole and kept.

    Parameters
    ----------
    folder : that of the records.
    at : byte of the photo that the piece begins with.
    size : of the whole photo [bytes].

    Raises
    ------
    ElsewhereError
        where another byte is the next.
    NoPhotoError
        where the whole is not what its name says, or no picture: what came is dropped.
    """
    with _ONE:
        there, done = have(folder, digest)
        if done:
            return size, True
        if at != there or at + len(piece) > size:
            raise ElsewhereError(there)
        coming = _coming(folder, digest)
        coming.parent.mkdir(exist_ok=True)
        with coming.open("ab") as file:
            file.write(piece)
        if at + len(piece) < size:
            return at + len(piece), False
        try:
            _keep(kept_at(folder, digest), digest, coming.read_bytes())
        finally:
            coming.unlink()
        return size, True


def _coming(folder: Path, digest: str) -> Path:
    return folder / "photos-coming" / digest


def _keep(path: Path, digest: str, content: bytes) -> None:
    if hashlib.sha256(content).hexdigest() != digest:
        raise NoPhotoError("its bytes are not those of its name")
    anew = upright(content)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    with part.open("wb") as file:
        file.write(anew)
        file.flush()
        os.fsync(file.fileno())
    os.replace(part, path)
    sync_folder(path.parent)


def upright(content: bytes) -> bytes:
    """The picture as JPEG, turned as the camera was held, without a note of camera or place.

    Raises
    ------
    NoPhotoError
        for what is none of JPEG, PNG and WebP, is broken, or has too many pixels.
    """
    try:
        with Image.open(io.BytesIO(content), formats=FORMATS) as picture:
            if picture.width * picture.height > PIXELS:
                raise NoPhotoError(f"{picture.width} x {picture.height} pixels")
            turned = ImageOps.exif_transpose(picture).convert("RGB")
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as no:
        raise NoPhotoError(str(no)) from no
    turned.thumbnail((SIDE, SIDE))
    # a new picture: whatever stood beside the pixels stays behind
    plain = Image.new("RGB", turned.size)
    plain.paste(turned)
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
