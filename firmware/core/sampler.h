// Which input the converter looks at, and into which sum each conversion goes.
//
// The converter runs free. When one conversion ends the next has begun, so an input chosen then is first seen by the
// conversion after the next; and the first reading after a change is not to be trusted. Two are therefore thrown
// away after every change (which also suits a simulator that applies the change at once).
// The fast inputs take turns in a cycle of at most 18 conversions, so that a window of 1/500 s (19.2 conversions)
// holds some of each; pressure has most. About every 23 ms one slow input gets a look, after a turn of
// pressure, so that eight looks fit between two slow messages. No window is ever without pressure; at 500 Hz with
// every input enabled a few in a hundred lack one of the other fast inputs, and say so by their n of 0.
//
// Runs inside the conversion interrupt. No division, no loops.
#ifndef FROTHLINE_SAMPLER_H
#define FROTHLINE_SAMPLER_H

#include <stdbool.h>
#include <stdint.h>

#include "core/rotor.h"

enum input { INPUT_PRESSURE, INPUT_DIFFERENTIAL, INPUT_THERMAL, INPUT_TEMPERATURE, INPUT_BANDGAP, INPUT_COUNT };

enum {
    SAMPLER_RATE_LEAST = 10,
    SAMPLER_RATE_MOST = 500,
    SAMPLER_SLOW_EVERY = 220,    // conversions, at least, between two looks at slow inputs
    SAMPLER_SLOW_LOOKS = 8,      // in turn: seven at the line temperature, one at the supply
    SAMPLER_SLOW_RATE = 5,       // slow messages per second
    SAMPLER_WINDOWS = 4,         // closed windows that may wait for the main loop: 8 ms at 500 Hz
};

struct sum {
    uint32_t sum;
    uint16_t n;
};

struct line_window {
    uint32_t end;
    struct sum fast[INPUT_THERMAL + 1];
    struct rotor_reading rotor;
    uint8_t flags;  // LINE_FLAG_ADC_OVERRUN, LINE_FLAG_FIRST
};

struct slow_window {
    uint32_t end;
    struct sum temperature;
    struct sum bandgap;
};

// An exact schedule: window k ends floor(k * WIRE_TICK_HZ / rate) ticks after the start.
struct schedule {
    uint32_t end;
    uint32_t whole;
    uint16_t remainder;
    uint16_t rate;
    uint16_t carried;
};

struct sampler {
    struct sum sums[INPUT_COUNT];
    uint16_t enabled;             // bit n: channel kind n
    // what the converter does
    uint8_t input;
    uint8_t skip;                 // conversions still to be thrown away
    uint8_t take;                 // conversions still to be summed before the next input's turn
    uint8_t fast;                 // fast input whose turn it is
    uint8_t slow_look;
    uint8_t until_slow;
    // windows
    bool streaming;
    struct schedule line;
    uint32_t slow_end;
    struct schedule prepared;     // of the rate to come
    bool change_due;              // the window under way is the last one of the present rate
    struct line_window closed[SAMPLER_WINDOWS];
    uint8_t closed_head;          // written by the interrupt
    uint8_t closed_tail;          // written by the main loop
    uint16_t windows_lost;        // found all places taken
    struct slow_window slow_closed;
    bool slow_ready;
    // lost conversions
    uint16_t last;                // tick of the last conversion, its low half
    uint16_t spacing;             // more than this between two: some were lost
    bool running;
    uint8_t window_flags;
    uint16_t overruns;
    uint16_t conversions;         // counts on, to show that the converter lives
};

// `spacing`: ticks between two conversions.
void sampler_begin(struct sampler *sampler, uint16_t enabled, uint16_t spacing);
void sampler_enable(struct sampler *sampler, uint16_t enabled);

// A stream in two steps. Preparing divides, which takes 0.1 ms, and is done with interrupts on; its result is kept in
// memory, or the compiler would be free to move the division to where interrupts are off. Starting is quick, with
// interrupts off: windows end on the schedule from `now` on. A change needs no lock: the window under way is ended at its
// time, so that no conversion is lost, and the schedule of the prepared rate begins there.
void sampler_prepare(struct sampler *sampler, uint16_t rate);
void sampler_start(struct sampler *sampler, uint32_t now);
void sampler_change(struct sampler *sampler);
void sampler_stop(struct sampler *sampler);

// At the end of each conversion, in the interrupt. Returns the input to select.
uint8_t sampler_conversion(struct sampler *sampler, struct rotor *rotor, uint16_t value, uint32_t tick);

// The main loop takes what is closed; false when nothing is. The interrupt must be off during sampler_take_slow.
bool sampler_take_line(struct sampler *sampler, struct line_window *window);
bool sampler_take_slow(struct sampler *sampler, struct slow_window *window);

#endif
