// Load cell converter on two port pins.
#ifndef FROTHLINE_EMULATOR_SCALE_H
#define FROTHLINE_EMULATOR_SCALE_H

#include "machine.h"

void scale_begin(struct emulator *e);
void scale_set(struct emulator *e, int present, int32_t counts, uint32_t per_second);
void scale_pins(struct emulator *e);                     // drives the data line again, after a reset
avr_cycle_count_t scale_next(const struct emulator *e);  // when something is due; 0: nothing
void scale_turn(struct emulator *e);

#endif
