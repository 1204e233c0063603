// A number that tells one board from every other: drawn at the first boot, stored, and never changed.
#ifndef FROTHLINE_IDENTITY_H
#define FROTHLINE_IDENTITY_H

#include <stdbool.h>
#include <stdint.h>

// The stored number, or a new one that is stored; 0 when the storage does not keep it. Before the main loop: it takes
// 50 ms of conversions and some 30 ms of writing at the first boot.
uint32_t identity_load(void);

// Shared with the conversion interrupt, which mixes the noise in the lowest bits while a number is drawn.
extern volatile bool identity_gathering;
extern volatile uint32_t identity_noise;

static inline void identity_conversion(uint16_t value)
{
    if (identity_gathering) {
        identity_noise = (identity_noise << 5 | identity_noise >> 27) ^ value;
    }
}

#endif
