// The few functions of the C library that the firmware uses; the compiler for this chip comes without a library.
#ifndef FROTHLINE_STRING_H
#define FROTHLINE_STRING_H

#include <stddef.h>

void *memcpy(void *to, const void *from, size_t count);
void *memset(void *to, int value, size_t count);
int memcmp(const void *one, const void *other, size_t count);

#endif
