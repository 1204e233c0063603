#include "core/frame.h"

#include "core/crc32.h"

uint8_t frame_close(uint8_t *buffer, uint8_t length)
{
    uint32_t check = crc32(buffer + FRAME_LEAD, length);
    uint8_t end = (uint8_t)(FRAME_LEAD + length);
    for (uint8_t i = 0; i < WIRE_CHECK_SIZE; i++) {
        buffer[end++] = (uint8_t)check;
        check >>= 8;
    }
    uint8_t code = 0;  // where the distance to the next zero belongs
    for (uint8_t i = FRAME_LEAD; i < end; i++) {
        if (buffer[i] == 0) {
            buffer[code] = (uint8_t)(i - code);
            code = i;
        }
    }
    buffer[code] = (uint8_t)(end - code);
    buffer[end++] = 0;
    return end;
}

// COBS decoding in place: the result begins at bytes[0] and is one byte shorter. Returns its length or a damage.
static int8_t unstuff(uint8_t *bytes, uint8_t length)
{
    uint8_t in = 0;
    uint8_t out = 0;
    while (in < length) {
        uint8_t code = bytes[in++];  // never zero: zeros end frames
        if (code - 1 > length - in) {
            return FRAME_DAMAGED;
        }
        while (--code) {
            bytes[out++] = bytes[in++];
        }
        if (in < length) {
            bytes[out++] = 0;
        }
    }
    return (int8_t)out;
}

static int8_t open_frame(struct frame_collector *collector)
{
    int8_t length = unstuff(collector->bytes, collector->length);
    if (length < (int8_t)(WIRE_HEADER_SIZE + WIRE_CHECK_SIZE)) {
        return FRAME_DAMAGED;
    }
    length = (int8_t)(length - (int8_t)WIRE_CHECK_SIZE);
    uint32_t check = crc32(collector->bytes, (uint8_t)length);
    for (uint8_t i = 0; i < WIRE_CHECK_SIZE; i++) {
        if (collector->bytes[(uint8_t)length + i] != (uint8_t)check) {
            return FRAME_DAMAGED;
        }
        check >>= 8;
    }
    return length;
}

int8_t frame_collect(struct frame_collector *collector, uint8_t byte)
{
    if (byte != 0) {
        if (collector->length == FRAME_LARGEST_RECEIVED) {
            collector->overlong = 1;
        } else {
            collector->bytes[collector->length++] = byte;
        }
        return FRAME_PENDING;
    }
    int8_t result = FRAME_PENDING;  // zeros between frames are no frames
    if (collector->overlong) {
        result = FRAME_DAMAGED;
    } else if (collector->length) {
        result = open_frame(collector);
    }
    collector->length = 0;
    collector->overlong = 0;
    return result;
}
