// Byte ring between one interrupt and the main loop.
//
// Contract: one writer, one reader, on different sides. Each side writes its own index only; the indices run freely
// through 8 bit, so one load reads them whole. Data first, index last. Ways to break it: two writers; clearing the
// ring from outside while the other side is alive; a capacity that does not divide 256.
#ifndef FROTHLINE_RING_H
#define FROTHLINE_RING_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

struct ring {
    uint8_t *bytes;
    uint8_t mask;            // capacity - 1; the capacity is a power of two, at most 256; one byte of 256 stays free
    volatile uint8_t head;   // written by the writer
    volatile uint8_t tail;   // written by the reader
};

static inline uint8_t ring_used(const struct ring *ring)
{
    return (uint8_t)(ring->head - ring->tail);
}

static inline uint8_t ring_room(const struct ring *ring)
{
    uint8_t limit = ring->mask == 255 ? 255 : (uint8_t)(ring->mask + 1);
    return (uint8_t)(limit - ring_used(ring));
}

// Writer's side: one byte, or false when full.
static inline bool ring_put(struct ring *ring, uint8_t byte)
{
    if (ring_room(ring) == 0) {
        return false;
    }
    uint8_t head = ring->head;
    ring->bytes[head & ring->mask] = byte;
    atomic_signal_fence(memory_order_seq_cst);  // the compiler may not move the data behind the index
    ring->head = (uint8_t)(head + 1);
    return true;
}

// Writer's side: all of it, or false and nothing. The reader sees the frame at once or not at all.
bool ring_put_whole(struct ring *ring, const uint8_t *bytes, uint8_t length);

// Reader's side: one byte, or false when empty.
static inline bool ring_take(struct ring *ring, uint8_t *byte)
{
    uint8_t tail = ring->tail;
    if (tail == ring->head) {
        return false;
    }
    *byte = ring->bytes[tail & ring->mask];
    atomic_signal_fence(memory_order_seq_cst);
    ring->tail = (uint8_t)(tail + 1);
    return true;
}

#endif
