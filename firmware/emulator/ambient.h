// Ambient module on the two-wire bus.
#ifndef FROTHLINE_EMULATOR_AMBIENT_H
#define FROTHLINE_EMULATOR_AMBIENT_H

#include "machine.h"

void ambient_begin(struct emulator *e);
void ambient_set(struct emulator *e, int present, const uint8_t low[26], const uint8_t high[16], const uint8_t burst[8]);

#endif
