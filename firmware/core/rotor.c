#include "core/rotor.h"

void rotor_begin(struct rotor *rotor)
{
    *rotor = (struct rotor){.now = {.flags = LINE_FLAG_ROTOR_STOPPED}};
    rotor->before = rotor->now;
}

void rotor_edge(struct rotor *rotor, uint32_t tick)
{
    bool stopped = rotor->now.flags & LINE_FLAG_ROTOR_STOPPED;
    if (!stopped && tick - rotor->now.edge < ROTOR_SHORTEST_TICKS) {
        rotor->rejected++;
        return;
    }
    rotor->before = rotor->now;
    rotor->now.pulses++;
    rotor->now.edge = tick;
    rotor->now.flags = LINE_FLAG_ROTOR_SEEN;
}

void rotor_watch(struct rotor *rotor, uint32_t now)
{
    // The age is negative when an edge came after the end of the window that asks.
    if ((int32_t)(now - rotor->now.edge) > (int32_t)ROTOR_TIMEOUT_TICKS) {
        rotor->now.flags |= LINE_FLAG_ROTOR_STOPPED;
    }
}

const struct rotor_reading *rotor_read(const struct rotor *rotor, uint32_t end)
{
    bool stopped = rotor->now.flags & LINE_FLAG_ROTOR_STOPPED;
    if (!stopped && (int32_t)(rotor->now.edge - end) > 0) {
        return &rotor->before;
    }
    return &rotor->now;
}
