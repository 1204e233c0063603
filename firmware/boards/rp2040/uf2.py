"""The boot stage and the program of the RP2040 as one UF2 file, which is copied to the drive that the board shows.

UF2: blocks of 512 bytes, each with 256 bytes of the flash and their address (the format's public specification, from
memory). The boot ROM of the chip runs the first 256 bytes of the flash only if their last four are the CRC-32/MPEG-2 of
the others.

    python3 uf2.py boot2.bin program.bin frothline.uf2
"""

import struct
import sys
from pathlib import Path

FLASH = 0x10000000
BOOT, PAGE = 256, 256
MAGIC = 0x0A324655, 0x9E5D5157, 0x0AB16F30
HAS_FAMILY, FAMILY = 0x00002000, 0xE48BFF56  # of the RP2040


def crc32_mpeg2(text: bytes) -> int:
    """CRC-32/MPEG-2: polynomial 0x04C11DB7, start 0xFFFFFFFF, bits not reflected, no final change."""
    value = 0xFFFFFFFF
    for byte in text:
        value ^= byte << 24
        for _ in range(8):
            value = (value << 1 ^ 0x04C11DB7 if value & 0x80000000 else value << 1) & 0xFFFFFFFF
    return value


def image(boot: bytes, program: bytes) -> bytes:
    """The flash from its beginning: boot stage with its check, program, padded to whole pages."""
    if len(boot) > BOOT - 4:
        raise SystemExit(f"the boot stage has {len(boot)} bytes; {BOOT - 4} fit")
    boot = boot.ljust(BOOT - 4, b"\0")
    whole = boot + struct.pack("<I", crc32_mpeg2(boot)) + program
    return whole + bytes(-len(whole) % PAGE)


def uf2(flash: bytes) -> bytes:
    pages = [flash[at : at + PAGE] for at in range(0, len(flash), PAGE)]
    blocks = []
    for number, page in enumerate(pages):
        at = FLASH + number * PAGE
        head = struct.pack("<8I", MAGIC[0], MAGIC[1], HAS_FAMILY, at, PAGE, number, len(pages), FAMILY)
        blocks.append(head + page.ljust(476, b"\0") + struct.pack("<I", MAGIC[2]))
    return b"".join(blocks)


if __name__ == "__main__":
    boot_file, program_file, target = map(Path, sys.argv[1:])
    target.write_bytes(uf2(image(boot_file.read_bytes(), program_file.read_bytes())))
