// memcpy, memset and memcmp, byte by byte: what is moved here is short.
#include <stdint.h>
#include <string.h>

void *memcpy(void *to, const void *from, size_t count)
{
    uint8_t *byte = to;
    const uint8_t *source = from;
    while (count--) {
        *byte++ = *source++;
    }
    return to;
}

void *memset(void *to, int value, size_t count)
{
    uint8_t *byte = to;
    while (count--) {
        *byte++ = (uint8_t)value;
    }
    return to;
}

int memcmp(const void *one, const void *other, size_t count)
{
    const uint8_t *a = one, *b = other;
    for (; count--; a++, b++) {
        if (*a != *b) {
            return *a - *b;
        }
    }
    return 0;
}
