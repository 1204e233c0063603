#include "core/outbox.h"

#include <string.h>

#include "core/board.h"
#include "core/frame.h"

static uint8_t buffer[FRAME_LARGEST_SENT];
static uint8_t payload_size;
static uint16_t sequence;
static uint32_t dropped;

void outbox_begin(void)
{
    sequence = 0;
    dropped = 0;
}

void *outbox_message(uint8_t id, uint8_t size)
{
    memset(buffer, 0, sizeof buffer);
    payload_size = size;
    buffer[FRAME_LEAD] = id;
    return buffer + FRAME_LEAD;
}

bool outbox_send(void)
{
    buffer[FRAME_LEAD + 1] = (uint8_t)sequence;
    buffer[FRAME_LEAD + 2] = (uint8_t)(sequence >> 8);
    sequence++;
    uint8_t length = frame_close(buffer, payload_size);
    if (!board_send(buffer, length)) {
        dropped++;
        return false;
    }
    return true;
}

void outbox_count_dropped(uint16_t messages)
{
    sequence += messages;
    dropped += messages;
}

uint32_t outbox_dropped(void)
{
    return dropped;
}
