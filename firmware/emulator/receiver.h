// The receiver of the serial line: as deep as the chip's, and as fast as the line.
#ifndef FROTHLINE_EMULATOR_RECEIVER_H
#define FROTHLINE_EMULATOR_RECEIVER_H

#include "machine.h"

enum { RECEIVER_BYTE_CYCLES = 320 };  // at 500 kBd

void receiver_begin(struct emulator *e);
void receiver_clear(struct emulator *e);
void receiver_start(struct emulator *e, uint8_t byte);  // its start bit is now
void receiver_turn(struct emulator *e);
avr_cycle_count_t receiver_next(const struct emulator *e);  // 0: nothing is to come

#endif
