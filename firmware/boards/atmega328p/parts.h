// What the files of this board offer each other; the rest of the firmware sees core/board.h only.
#ifndef FROTHLINE_PARTS_H
#define FROTHLINE_PARTS_H

#include <stdint.h>

void clock_begin(void);
void converter_begin(void);
void uart_begin(void);
void twi_begin(void);

// Inside an interrupt, or with interrupts off.
uint32_t clock_now(void);

uint16_t uart_receive_errors(void);
uint8_t uart_high_water(void);
uint16_t twi_errors(void);
uint16_t twi_recoveries(void);

#endif
