// Frames: COBS( payload, CRC-32 little-endian ) and one zero byte. Both directions work in place, without a copy.
//
// Payload and check stay within 253 bytes, so a COBS block never reaches its full length of 254 and every zero
// is replaced one for one: the frame is always the payload + 4 (check) + 1 (first code) + 1 (closing zero).
#ifndef FROTHLINE_FRAME_H
#define FROTHLINE_FRAME_H

#include <stdint.h>

#include "core/messages.h"

enum {
    FRAME_LEAD = 1,  // the payload is written at buffer + FRAME_LEAD
    FRAME_OVERHEAD = FRAME_LEAD + WIRE_CHECK_SIZE + 1,
    FRAME_LARGEST_SENT = WIRE_LARGEST_BOARD_PAYLOAD + FRAME_OVERHEAD,
    FRAME_LARGEST_RECEIVED = 64,  // coded, without the zero: room for commands that have grown since
};
_Static_assert(WIRE_LARGEST_COMMAND_PAYLOAD + WIRE_CHECK_SIZE + 1 <= FRAME_LARGEST_RECEIVED, "commands fit");

// Closes the frame whose payload of `length` bytes lies at buffer + FRAME_LEAD; returns the bytes to be sent.
// The caller owns buffer[length + FRAME_OVERHEAD]; length at most WIRE_LARGEST_PAYLOAD.
uint8_t frame_close(uint8_t *buffer, uint8_t length);

// Collects received bytes until a frame is whole.
struct frame_collector {
    uint8_t bytes[FRAME_LARGEST_RECEIVED];
    uint8_t length;
    uint8_t overlong;  // the frame is longer than any we know; skip to the next zero
};

enum frame_result {
    FRAME_PENDING = 0,
    FRAME_DAMAGED = -1,  // wrong check, impossible coding or too long; the next zero starts anew
    // a positive number is the length of the payload that now lies at collector->bytes
};
int8_t frame_collect(struct frame_collector *collector, uint8_t byte);

#endif
