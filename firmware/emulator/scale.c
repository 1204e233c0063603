// An HX711 on two port pins, clocked by hand. Avia data sheet: data low when a conversion waits; 24 bits, most
// significant first, each valid after a rising clock; the 25th pulse chooses gain 128 and lifts the data line; a clock
// held high for more than 60 us powers down, and 400 ms pass after that before data is settled.
#include "scale.h"

#include <avr_ioport.h>

enum { POWER_DOWN_CYCLES = 60 * 16, SETTLE_CYCLES = 6400000 };

static void lift(struct emulator *e)
{
    e->scale.pulses = 0;
    machine_drive(e->scale.data, 1);
}

static void on_clock(struct avr_irq_t *irq, uint32_t value, void *param)
{
    struct emulator *e = param;
    struct scale *chip = &e->scale;
    bool high = value & 1;
    if (high == chip->clock) {
        return;
    }
    chip->clock = high;
    if (high) {
        chip->risen = e->avr->cycle;
        if (!chip->present || chip->ready > e->avr->cycle) {
            return;
        }
        if (chip->pulses == 0) {
            chip->latched = (uint32_t)chip->counts & 0xFFFFFF;
        }
        chip->pulses++;
        if (chip->pulses <= 24) {
            machine_drive(chip->data, (chip->latched >> (24 - chip->pulses)) & 1);
        } else {
            chip->ready = e->avr->cycle + chip->period;
            lift(e);
        }
    } else if (e->avr->cycle - chip->risen > POWER_DOWN_CYCLES) {
        chip->ready = e->avr->cycle + SETTLE_CYCLES;
        lift(e);
    }
}

avr_cycle_count_t scale_next(const struct emulator *e)
{
    return e->scale.present && e->scale.pulses == 0 && e->scale.ready > e->avr->cycle ? e->scale.ready : 0;
}

// A conversion that has just ended pulls the data line low.
void scale_turn(struct emulator *e)
{
    struct scale *chip = &e->scale;
    if (chip->present && chip->pulses == 0 && chip->ready <= e->avr->cycle) {
        machine_drive(chip->data, 0);
    }
}

void scale_pins(struct emulator *e)
{
    bool waits = e->scale.present && e->scale.pulses == 0 && e->scale.ready <= e->avr->cycle;
    machine_drive(e->scale.data, !waits);
}

void scale_begin(struct emulator *e)
{
    e->scale.period = EMULATOR_FREQUENCY / 10;
    e->scale.ready = SETTLE_CYCLES;
    e->scale.data = avr_io_getirq(e->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 4);
    avr_irq_register_notify(avr_io_getirq(e->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 5), on_clock, e);
}

void scale_set(struct emulator *e, int present, int32_t counts, uint32_t per_second)
{
    struct scale *chip = &e->scale;
    chip->counts = counts;
    chip->period = EMULATOR_FREQUENCY / (per_second ? per_second : 10);
    if (present && !chip->present) {
        chip->ready = e->avr->cycle + SETTLE_CYCLES;
    }
    if (!present && chip->present) {
        chip->present = false;
        lift(e);  // nothing drives the line, its pull-up does
    }
    chip->present = present;
}
