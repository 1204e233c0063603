"""The check of every frame: CRC-32/ISO-HDLC, as in zlib, for one text or for many frames at once.

Polynomial 0x04C11DB7 reflected, start and final value 0xFFFFFFFF, check value 0xCBF43926 for "123456789" (parameters:
Greg Cook, Catalogue of parametrised CRC algorithms). A 16-bit check misses one in 65,536 randomly damaged frames, this
one one in 4.3e9.
"""

from __future__ import annotations

from functools import cache
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

__all__ = ["CHECK_BYTES", "crc32", "crc32_columns"]

CHECK_BYTES = 4
_POLYNOMIAL = 0xEDB88320  # 0x04C11DB7, bits reversed


@cache
def _contributions(length: int) -> NDArray[np.uint32]:
    """Row k: contribution of a byte value to the check when k more bytes follow it; the check is linear over XOR."""
    table = np.arange(256, dtype=np.uint32)
    for _ in range(8):
        table = np.where(table & 1, (table >> 1) ^ np.uint32(_POLYNOMIAL), table >> 1)
    rows = np.empty((length, 256), dtype=np.uint32)
    rows[0] = table
    for k in range(1, length):
        rows[k] = (rows[k - 1] >> 8) ^ table[rows[k - 1] & 0xFF]
    return rows


def crc32_columns(columns: NDArray[np.uint8]) -> NDArray[np.uint32]:
    """Check of n messages of equal length; ``columns`` is (length, n): row j holds byte j of each message."""
    length, n = columns.shape
    rows = _contributions(256)
    result: NDArray[np.uint32] = np.full(n, crc32(bytes(length)), dtype=np.uint32)
    piece: NDArray[Any] = np.empty(n, dtype=np.uint32)
    for j in range(length):
        np.take(rows[length - 1 - j], columns[j], out=piece, mode="clip")  # only mode "clip" writes without a copy
        result ^= piece
    return result
