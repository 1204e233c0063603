#include "core/record.h"

#include <string.h>

#include "core/board.h"
#include "core/crc32.h"
#include "core/tick.h"

// The slot being written or read.
static uint8_t slot[RECORD_LARGEST_PAYLOAD + RECORD_OVERHEAD];

static uint8_t slot_size(const struct record *record)
{
    return (uint8_t)(record->size + RECORD_OVERHEAD);
}

static void read_slot(const struct record *record, uint8_t which)
{
    for (uint8_t i = 0; i < slot_size(record); i++) {
        slot[i] = board_storage_read(record->slot[which] + i);
    }
}

static void put_check(uint8_t *bytes, uint8_t length)
{
    uint32_t check = crc32(bytes, length);
    for (uint8_t i = 0; i < 4; i++) {
        bytes[length + i] = (uint8_t)check;
        check >>= 8;
    }
}

// The bytes in slot carry their own check.
static bool whole(const struct record *record)
{
    uint8_t stored[4];
    uint8_t length = (uint8_t)(record->size + 2);
    memcpy(stored, slot + length, sizeof stored);
    put_check(slot, length);
    return memcmp(stored, slot + length, sizeof stored) == 0;
}

static uint16_t sequence_of(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] | (uint16_t)bytes[1] << 8);
}

bool record_load(struct record *record, void *payload)
{
    record->found = false;
    record->writing = false;
    record->sequence = 0;
    record->current = 1;
    for (uint8_t which = 0; which < 2; which++) {
        read_slot(record, which);
        if (!whole(record)) {
            continue;
        }
        uint16_t sequence = sequence_of(slot);
        if (record->found && (int16_t)(sequence - record->sequence) <= 0) {
            continue;
        }
        record->found = true;
        record->sequence = sequence;
        record->current = which;
        memcpy(payload, slot + 2, record->size);
    }
    return record->found;
}

void record_write(struct record *record, const void *payload)
{
    uint16_t sequence = (uint16_t)(record->sequence + 1);
    slot[0] = (uint8_t)sequence;
    slot[1] = (uint8_t)(sequence >> 8);
    memcpy(slot + 2, payload, record->size);
    put_check(slot, (uint8_t)(record->size + 2));
    record->position = 0;
    record->writing = true;
}

enum record_result record_step(struct record *record)
{
    if (!record->writing) {
        return RECORD_IDLE;
    }
    if (!board_storage_ready()) {
        return RECORD_WRITING;
    }
    uint8_t other = record->current ^ 1;
    uint16_t address = record->slot[other];
    if (record->position < slot_size(record)) {
        uint8_t i = record->position++;
        if (board_storage_read(address + i) != slot[i]) {
            board_storage_write(address + i, slot[i]);
        }
        return RECORD_WRITING;
    }
    record->writing = false;
    for (uint8_t i = 0; i < slot_size(record); i++) {
        if (board_storage_read(address + i) != slot[i]) {
            return RECORD_FAILED;
        }
    }
    record->sequence = sequence_of(slot);
    record->current = other;
    record->found = true;
    return RECORD_DONE;
}

bool record_write_now(struct record *record, const void *payload)
{
    record_write(record, payload);
    uint32_t begun = board_tick();
    enum record_result result;
    do {
        result = record_step(record);
        board_feed_watchdog();
    } while (result == RECORD_WRITING && board_tick() - begun < 200ul * TICKS_PER_MS);
    return result == RECORD_DONE;
}
