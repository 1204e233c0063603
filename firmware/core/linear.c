#include "core/linear.h"

#include <stddef.h>

#include "core/messages.h"

enum { SUPPLY_MILLIVOLT = 5000, PER_MYRIAD_MOST = 5000 };

bool linear_valid(const struct linear_line *line)
{
    return line->low_pascal < line->high_pascal && line->low_millivolt < line->high_millivolt
        && line->high_millivolt <= SUPPLY_MILLIVOLT && line->accuracy_per_myriad > 0
        && line->accuracy_per_myriad <= PER_MYRIAD_MOST;
}

struct linear_line *linear_of(struct linear_lines *lines, uint8_t channel_kind)
{
    switch (channel_kind) {
    case CHANNEL_KIND_PRESSURE:
        return &lines->pressure;
    case CHANNEL_KIND_DIFFERENTIAL:
        return &lines->differential;
    default:
        return NULL;
    }
}
