// HX711 load cell converter, channel A, gain 128: found and lost at run time.
// Avia Semiconductor HX711 data sheet, "Serial Interface": 24 bits, most significant first, then one clock more.
#ifndef FROTHLINE_HX711_H
#define FROTHLINE_HX711_H

#include <stdbool.h>
#include <stdint.h>

#include "core/tick.h"

#define HX711_SILENT_TICKS (1000ul * TICKS_PER_MS)  // slowest rate 10 a second, settling 0.4 s
#define HX711_RETRY_TICKS (100ul * TICKS_PER_MS)

struct hx711 {
    bool present;
    uint8_t flags;    // DEVICE_FLAG_* of the last turn that said true
    int32_t counts;
    uint32_t heard;   // tick of the last conversion, or of the last word about its absence
    uint32_t ask;     // not before this tick
};

void hx711_begin(struct hx711 *chip, uint32_t now);

// Called about once a millisecond, takes about 0.1 ms when a conversion is ready and never waits. True when flags
// and counts say something new: a conversion, or once a second that there is none.
bool hx711_turn(struct hx711 *chip, uint32_t now);

// 24 bit two's complement to 32 bit.
static inline int32_t hx711_sign_extend(uint32_t raw)
{
    return (int32_t)(raw ^ 0x800000ul) - 0x800000l;
}

#endif
