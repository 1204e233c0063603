#include "core/outbox.h"

#include <string.h>

#include "core/board.h"

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

static bool send(uint8_t reserve)
{
    buffer[FRAME_LEAD + 1] = (uint8_t)sequence;
    buffer[FRAME_LEAD + 2] = (uint8_t)(sequence >> 8);
    sequence++;
    if (board_send_room() < payload_size + FRAME_OVERHEAD + reserve
        || !board_send(buffer, frame_close(buffer, payload_size))) {
        dropped++;
        return false;
    }
    return true;
}

bool outbox_send(void)
{
    return send(0);
}

bool outbox_send_stream(void)
{
    return send(OUTBOX_RESERVE);
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
