#include "core/identity.h"

#include "core/board.h"
#include "core/crc32.h"
#include "core/record.h"
#include "core/settings.h"
#include "core/tick.h"

#define GATHER_FOR (50ul * TICKS_PER_MS)  // some 480 conversions

volatile bool identity_gathering;
volatile uint32_t identity_noise;

static uint32_t draw(void)
{
    uint32_t begun = board_tick();
    identity_gathering = true;
    while (board_tick() - begun < GATHER_FOR) {
        board_rest();
        board_feed_watchdog();
    }
    identity_gathering = false;
    uint32_t drawn[2] = {board_leftover(), identity_noise};
    uint32_t number = crc32((const uint8_t *)drawn, sizeof drawn);
    return number == 0 ? 1 : number;
}

uint32_t identity_load(void)
{
    uint32_t number = 0;
    struct record record = {.slot = {STORAGE_IDENTITY_A, STORAGE_IDENTITY_B}, .size = sizeof number};
    if (record_load(&record, &number) && number != 0) {
        return number;
    }
    number = draw();
    return record_write_now(&record, &number) ? number : 0;
}
