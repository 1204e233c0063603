// Pulse anemometer: counts edges and keeps the time of the last two. No division here: the host makes the frequency.
#ifndef FROTHLINE_ROTOR_H
#define FROTHLINE_ROTOR_H

#include <stdbool.h>
#include <stdint.h>

#include "core/tick.h"

// No edge for this long: the rotor stands, or turns slower than 1 edge a second.
#define ROTOR_TIMEOUT_TICKS WIRE_TICK_HZ

// Edges closer than 125 us (8 kHz, several times the fastest rotor) are bounce or motor bursts: not counted as
// pulses, but as capture overruns. Also keeps at most one edge between the end of a window and its closing.
#define ROTOR_SHORTEST_TICKS 250u

struct rotor_reading {
    uint32_t pulses;  // since boot, modulo 2^32
    uint32_t edge;    // tick of the last of them
    uint8_t flags;    // LINE_FLAG_ROTOR_*; stopped is latched, for an age means nothing beyond half a turn of the tick
};

struct rotor {
    struct rotor_reading now;
    struct rotor_reading before;  // as it stood before the last pulse
    uint16_t rejected;
};

void rotor_begin(struct rotor *rotor);
void rotor_edge(struct rotor *rotor, uint32_t tick);   // at every edge
void rotor_watch(struct rotor *rotor, uint32_t now);   // often: the latch must close within half a turn of the tick

// As it stood at `end`, which has passed by less than ROTOR_SHORTEST_TICKS: a later edge belongs to the next window.
const struct rotor_reading *rotor_read(const struct rotor *rotor, uint32_t end);

#endif
