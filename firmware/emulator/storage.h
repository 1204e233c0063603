// The EEPROM of the chip.
#ifndef FROTHLINE_EMULATOR_STORAGE_H
#define FROTHLINE_EMULATOR_STORAGE_H

#include "machine.h"

void storage_begin(struct emulator *e);
bool storage_busy(const struct emulator *e);
void storage_get(struct emulator *e, uint8_t bytes[EMULATOR_STORAGE]);
void storage_set(struct emulator *e, const uint8_t bytes[EMULATOR_STORAGE]);
void storage_cut_power(struct emulator *e, uint32_t luck);  // what is left of a byte that was being written

#endif
