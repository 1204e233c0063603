// Converter inputs.
#ifndef FROTHLINE_EMULATOR_ANALOG_H
#define FROTHLINE_EMULATOR_ANALOG_H

#include "machine.h"

void analog_begin(struct emulator *e);
void analog_set(struct emulator *e, const double from[EMULATOR_INPUTS], const double to[EMULATOR_INPUTS], uint64_t until,
                double noise);

#endif
