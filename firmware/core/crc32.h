// CRC-32/ISO-HDLC, the check of every frame and of every stored record.
#ifndef FROTHLINE_CRC32_H
#define FROTHLINE_CRC32_H

#include <stdint.h>

uint32_t crc32(const uint8_t *bytes, uint16_t length);

// For data that come one by one: start with CRC32_START, finish with the complement.
#define CRC32_START 0xFFFFFFFFul
uint32_t crc32_step(uint32_t crc, uint8_t byte);

#endif
