// The lines of sensors with a straight line from volts to pressure, which the board keeps for the host.
#ifndef FROTHLINE_LINEAR_H
#define FROTHLINE_LINEAR_H

#include <stdbool.h>
#include <stdint.h>

#include "core/record.h"

struct __attribute__((packed)) linear_line {
    int32_t low_pascal;
    int32_t high_pascal;
    uint16_t low_millivolt;
    uint16_t high_millivolt;
    uint16_t accuracy_per_myriad;
};

struct __attribute__((packed)) linear_lines {
    struct linear_line pressure;
    struct linear_line differential;
};
_Static_assert(sizeof(struct linear_lines) <= RECORD_LARGEST_PAYLOAD, "the lines fit a record");

bool linear_valid(const struct linear_line *line);

// The line of a channel kind; NULL when that channel has none.
struct linear_line *linear_of(struct linear_lines *lines, uint8_t channel_kind);

#endif
