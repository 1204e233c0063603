// The state of the emulated board and of the parts on its pins, and how a part drives a pin. Not for the host.
#ifndef FROTHLINE_EMULATOR_MACHINE_H
#define FROTHLINE_EMULATOR_MACHINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <avr_adc.h>
#include <avr_uart.h>
#include <sim_avr.h>

#include "chip.h"

enum { EDGE_ROOM = 4096, SENT_ROOM = 1 << 16, GIVEN_ROOM = 1 << 12 };

struct analog {
    double from[EMULATOR_INPUTS];
    double slope[EMULATOR_INPUTS];  // per cycle
    avr_cycle_count_t start;
    avr_cycle_count_t end;
    double noise;
    uint64_t random;
    avr_adc_t *converter;
};

struct ambient {
    bool present;
    uint8_t registers[256];
    uint8_t burst[8];
    uint8_t pointer;
    bool pointer_next;     // the next byte written is a register number
    bool selected;
    avr_cycle_count_t ready;  // when the measurement going on ends; 0: none
    avr_irq_t *answer;
};

struct scale {
    bool present;
    int32_t counts;
    avr_cycle_count_t period;
    avr_cycle_count_t ready;  // when the next conversion ends
    avr_cycle_count_t risen;
    uint32_t latched;
    uint8_t pulses;
    bool clock;
    avr_irq_t *data;
};

struct storage {
    avr_cycle_count_t written;  // when the last write began; 0: never
    uint16_t address;
    uint8_t before;
    avr_io_write_t chip_write;  // what the simulator does at a write to the control register
    void *chip_param;
};

struct receiver {
    uint8_t bytes[3];  // arrived whole and not read, the oldest first: two bytes and the shift register
    uint8_t count;
    bool coming;       // a byte is in the shift register, whole at `whole`
    uint8_t byte;
    avr_cycle_count_t whole;
    bool overrun;      // to be seen in the status until the data register is read
    uint32_t lost;
    avr_uart_t *uart;
    avr_io_read_t chip_status;  // what the simulator does when the image reads the status register
    void *chip_status_param;
};

struct emulator {
    avr_t *avr;
    struct analog analog;
    struct ambient ambient;
    struct scale scale;
    struct storage storage;
    avr_cycle_count_t until;  // a sleeping chip wakes here, or it would sleep past what comes in the next stretch
    bool button;
    // rotor edges to come, a ring
    uint64_t edges[EDGE_ROOM];
    size_t edge_head, edge_tail;
    avr_cycle_count_t edge_up;  // when the pulse that is low goes high again; 0: it is high
    avr_irq_t *rotor;
    avr_irq_t *push;
    // serial line
    uint8_t sent[SENT_ROOM];
    size_t sent_count;
    uint8_t given[GIVEN_ROOM];
    size_t given_head, given_tail;
    avr_cycle_count_t give_next;
    struct receiver receiver;
    // resets
    void (*chip_reset)(avr_t *avr);
    bool was_reset;
    bool own_reset;
    uint32_t resets;
    uint32_t complaints;
};

// Sets the level of a pin, also when the simulator believes that the pin has that level already.
void machine_drive(avr_irq_t *pin, int level);

#endif
