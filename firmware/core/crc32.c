#include "core/crc32.h"

// Reflected polynomial 0xEDB88320. The step for a byte is linear in its bits, so the usual table of 256 entries is the
// sum of one table for the low nibble and one for the high: 128 bytes instead of 1024, and no shift by less than a byte.
static const uint32_t low[16] = {
    0x00000000, 0x77073096, 0xEE0E612C, 0x990951BA, 0x076DC419, 0x706AF48F, 0xE963A535, 0x9E6495A3,
    0x0EDB8832, 0x79DCB8A4, 0xE0D5E91E, 0x97D2D988, 0x09B64C2B, 0x7EB17CBD, 0xE7B82D07, 0x90BF1D91,
};
static const uint32_t high[16] = {
    0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
    0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
};

uint32_t crc32_step(uint32_t crc, uint8_t byte)
{
    uint8_t index = (uint8_t)crc ^ byte;
    return (crc >> 8) ^ low[index & 0x0F] ^ high[index >> 4];
}

uint32_t crc32(const uint8_t *bytes, uint16_t length)
{
    uint32_t crc = CRC32_START;
    while (length--) {
        crc = crc32_step(crc, *bytes++);
    }
    return ~crc;
}
