"""A PNG as an array, by the PNG specification (W3C, third edition, clause 9), for 8-bit RGB and RGBA."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray


def size_of(png: bytes) -> tuple[int, int]:
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def pixels(png: bytes) -> NDArray[np.uint8]:
    """Shape (height, width, channels)."""
    width, height = size_of(png)
    channels = {2: 3, 6: 4}[png[25]]
    data, at = b"", 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        if png[at + 4 : at + 8] == b"IDAT":
            data += png[at + 8 : at + 8 + length]
        at += 12 + length
    raw = zlib.decompress(data)
    stride = width * channels
    image = np.zeros((height, stride), np.uint8)
    before = [0] * stride
    for y in range(height):
        start = y * (stride + 1)
        line = list(raw[start + 1 : start + 1 + stride])
        before = _unfiltered(raw[start], line, before, channels)
        image[y] = before
    return image.reshape(height, width, channels)


def _unfiltered(kind: int, line: list[int], above: list[int], n: int) -> list[int]:
    for i in range(len(line)):
        left = line[i - n] if i >= n else 0
        corner = above[i - n] if i >= n else 0
        guess = (0, left, above[i], (left + above[i]) // 2, _paeth(left, above[i], corner))[kind]
        line[i] = (line[i] + guess) & 255
    return line


def _paeth(a: int, b: int, c: int) -> int:
    p = a + b - c
    near = (abs(p - a), abs(p - b), abs(p - c))
    return (a, b, c)[near.index(min(near))]


def darkness(image: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where a pixel is as dark as ink."""
    return np.asarray(image[..., :3].max(axis=-1) < 130)
