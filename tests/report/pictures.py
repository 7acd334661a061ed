"""Pictures read back: a PNG as an array of colours, an SVG drawn by the renderer of the report."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import typst

Pixels = npt.NDArray[np.uint8]
SCALE = 4  # pixels of the picture to a pixel of the strip


def drawn(svg: str, width: float, height: float) -> Pixels:
    """The SVG on white, as [row, column, channel], four pixels to one of its own."""
    page = f"#set page(width: {width}pt, height: {height}pt, margin: 0pt, fill: white)\n"
    source = page + '#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    made = typst.compile(source.encode(), format="png", ppi=72 * SCALE, sys_inputs={"svg": svg})
    assert isinstance(made, bytes)
    return read_png(made)


def read_png(data: bytes) -> Pixels:
    """Eight bits a channel, not interlaced (ISO/IEC 15948: chunks, filters 0 to 4)."""
    chunks = list(_chunks(data))
    width, height, depth, colour = struct.unpack(">IIBB", chunks[0][1][:10])
    assert (depth, colour) == (8, 6)
    raw = zlib.decompress(b"".join(body for name, body in chunks if name == b"IDAT"))
    lines = np.frombuffer(raw, np.uint8).reshape(height, 1 + 4 * width)
    above = np.zeros(4 * width, np.uint8)
    rows = []
    for line in lines:
        above = _unfiltered(int(line[0]), line[1:], above)
        rows.append(above)
    return np.array(rows).reshape(height, width, 4)[:, :, :3]


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 8
    while at < len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        yield name, data[at + 8 : at + 8 + size]
        at += size + 12


def _unfiltered(kind: int, line: Pixels, above: Pixels) -> Pixels:
    out = line.copy()
    for i in range(len(out)):
        a = int(out[i - 4]) if i >= 4 else 0
        c = int(above[i - 4]) if i >= 4 else 0
        b = int(above[i])
        guess = (0, a, b, (a + b) // 2, _paeth(a, b, c))[kind]
        out[i] = (int(line[i]) + guess) & 255
    return out


def _paeth(a: int, b: int, c: int) -> int:
    p = a + b - c
    return min((abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c))[2]


def like(pixels: Pixels, colour: str, within: int = 40) -> npt.NDArray[np.bool_]:
    """Where a picture has a colour "#rrggbb", or one so near that edges count."""
    wanted = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    near: npt.NDArray[np.bool_] = (np.abs(pixels.astype(int) - wanted) <= within).all(axis=2)
    return near
