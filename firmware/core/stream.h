// The stream of measured windows, and what the core shares with the board's interrupts.
#ifndef FROTHLINE_STREAM_H
#define FROTHLINE_STREAM_H

#include <stdbool.h>
#include <stdint.h>

#include "core/settings.h"

void stream_begin(void);  // after the settings are loaded

// From the board's interrupts; see board.h.
uint8_t stream_conversion(uint16_t value, uint32_t tick);
void stream_edge(uint32_t tick);

// From the commands.
void stream_start(void);
void stream_stop(void);
void stream_set_rate(uint16_t rate);
void stream_apply_settings(const struct settings *settings);

// From the main loop.
bool stream_turn_due(void);     // true once after each conversion that makes a turn of the main loop worth while
void stream_send_lines(void);   // every closed window of the fast channels
void stream_send_slow(void);
bool stream_health_due(uint32_t now);  // true once a second while streaming
bool stream_watch(void);        // counts lost windows, looks for a stopped rotor; false when no conversion came meanwhile

struct stream_counts {
    uint16_t adc_overruns;
    uint16_t capture_overruns;
};
struct stream_counts stream_counts(void);

#endif
