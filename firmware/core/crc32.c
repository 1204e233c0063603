#include "core/crc32.h"

// Reflected polynomial 0xEDB88320, one entry per nibble: 64 bytes instead of 1024.
static const uint32_t table[16] = {
    0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
    0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
};

uint32_t crc32_step(uint32_t crc, uint8_t byte)
{
    crc ^= byte;
    crc = (crc >> 4) ^ table[crc & 0x0F];
    return (crc >> 4) ^ table[crc & 0x0F];
}

uint32_t crc32(const uint8_t *bytes, uint16_t length)
{
    uint32_t crc = CRC32_START;
    while (length--) {
        crc = crc32_step(crc, *bytes++);
    }
    return ~crc;
}
