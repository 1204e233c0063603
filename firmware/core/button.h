// Push button: the tick of the first touch, believed once it has lasted.
#ifndef FROTHLINE_BUTTON_H
#define FROTHLINE_BUTTON_H

#include <stdbool.h>
#include <stdint.h>

#include "core/tick.h"

#define BUTTON_STEADY_TICKS (20ul * TICKS_PER_MS)  // common practice for small push buttons: bounce under 20 ms

struct button {
    bool down;         // as believed
    bool changing;     // the contact differs from what is believed
    uint32_t touched;  // tick at which it began to differ
};

// Asked about once a millisecond; true once per press, whose moment is then button->touched.
bool button_watch(struct button *button, bool contact, uint32_t now);

#endif
