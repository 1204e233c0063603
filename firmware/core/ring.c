#include "core/ring.h"

#include <stdatomic.h>

bool ring_put_whole(struct ring *ring, const uint8_t *bytes, uint8_t length)
{
    if (ring_room(ring) < length) {
        return false;
    }
    uint8_t head = ring->head;
    while (length--) {
        ring->bytes[head & ring->mask] = *bytes++;
        head++;
    }
    atomic_signal_fence(memory_order_seq_cst);
    ring->head = head;
    return true;
}
