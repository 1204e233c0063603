// Board time: 32 bit, WIRE_TICK_HZ, modulo 2^32 (2147 s). All comparisons are made on differences.
#ifndef FROTHLINE_TICK_H
#define FROTHLINE_TICK_H

#include <stdbool.h>
#include <stdint.h>

#include "core/messages.h"

#define TICKS_PER_MS (WIRE_TICK_HZ / 1000ul)

// True when `now` has reached `moment`, for moments less than 1073 s away in either direction.
static inline bool tick_reached(uint32_t now, uint32_t moment)
{
    return (int32_t)(now - moment) >= 0;
}

// True while `moment` is still to come, for moments set at most `longest` ahead. Right however long ago it was set, except
// that an old one counts as to come for `longest` in every turn of the clock.
static inline bool tick_waits(uint32_t now, uint32_t moment, uint32_t longest)
{
    uint32_t left = moment - now;
    return left != 0 && left <= longest;
}

// A 16 bit timer reading and the count of its overflows make one tick. `overflow_pending`: the timer has wrapped
// but the interrupt that counts it has not run yet. Then a low reading lies after the wrap and a high one before.
// Right as long as no interrupt waits for half a turn of the timer (16 ms).
static inline uint32_t tick_extend(uint16_t overflows, uint16_t timer, bool overflow_pending)
{
    if (overflow_pending && timer < 0x8000u) {
        overflows++;
    }
    return ((uint32_t)overflows << 16) | timer;
}

#endif
