// A board made of memory, for the tests: what core/board.h asks for, and the world around it.
#ifndef FROTHLINE_FAKE_H
#define FROTHLINE_FAKE_H

#include <stdbool.h>
#include <stdint.h>

#include "core/ring.h"

enum { FAKE_STORAGE = 1024, FAKE_INPUTS = 5, FAKE_SENT = 1 << 20 };

struct fake {
    uint32_t tick;
    uint32_t started;  // tick at which the process began, so that conversions fall on a grid of their own
    uint8_t input;
    uint32_t leftover;
    uint16_t codes[FAKE_INPUTS];        // what each input of enum input converts to
    uint32_t adc_levels;
    uint32_t rotor_every;               // ticks between two edges, 0: the rotor stands
    uint32_t next_edge;
    bool button;
    uint32_t deaf_conversions;          // conversions that get lost from now on, as if interrupts had been off
    // serial line
    uint16_t bytes_per_second;          // what leaves the ring
    uint8_t sent[FAKE_SENT];
    uint32_t sent_length;
    // storage
    uint8_t storage[FAKE_STORAGE];
    long writes;                        // made so far
    long power_fails_at;                // this write is torn, later ones do nothing; -1: never
    int torn_byte;                      // what the torn byte reads as afterwards, -1: as before
    bool storage_dead;                  // takes writes without keeping them
    // two-wire bus
    bool ambient;
    uint8_t ambient_address;
    bool bus_hangs;
    uint8_t registers[256];
    // load cell converter
    enum { SCALE_ABSENT, SCALE_CONVERTS, SCALE_HELD_LOW } scale;
    int32_t scale_counts;
    // what was asked of the board
    unsigned watchdog_fed;
    int locked;
};
extern struct fake fake;
extern struct ring fake_receiving;  // what the host has sent

void fake_reset(void);

#endif
