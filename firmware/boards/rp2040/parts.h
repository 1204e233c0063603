// What the files of this board offer each other; the rest of the firmware sees core/board.h only.
#ifndef FROTHLINE_PARTS_H
#define FROTHLINE_PARTS_H

#include <stdint.h>

enum { CRYSTAL_HZ = 12000000, CLOCK_HZ = 125000000 };

void clock_begin(void);
void pin_begin(uint8_t pin, uint8_t function, uint32_t pad);
void converter_begin(void);
void uart_begin(void);
void twi_begin(void);
void flash_begin(void);
void storage_begin(void);

void twi_turn(void);   // feeds and empties the bus's queues; called from the conversion interrupt
void uart_turn(void);  // moves bytes between rings and line; called from the conversion interrupt
uint16_t uart_receive_errors(void);
uint8_t uart_high_water(void);
uint16_t twi_errors(void);
uint16_t twi_recoveries(void);

// The flash chip behind the program. `flash_ask` sends a command and `extra` bytes, then reads; 16 bytes at most together.
void flash_ask(const uint8_t *out, uint8_t out_length, uint8_t *in, uint8_t in_length);
void flash_allow_write(void);
uint8_t flash_busy(void);

void wait_us(uint32_t microseconds);

#endif
