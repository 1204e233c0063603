// A BME280 on the two-wire bus, as far as a driver can tell: identity, trimming, forced measurements, burst reads.
// Register addresses: Bosch BST-BME280-DS002, section 5.3. Bytes travel over the simulator's bus messages; its wires do
// not move.
#include "ambient.h"

#include <string.h>

#include <avr_twi.h>

enum {
    ADDRESS = 0x76,
    IDENTITY = 0x60,
    REGISTER_ID = 0xD0,
    REGISTER_RESET = 0xE0,
    REGISTER_CTRL_HUM = 0xF2,
    REGISTER_STATUS = 0xF3,
    REGISTER_CTRL_MEAS = 0xF4,
    REGISTER_BURST = 0xF7,
    MEASURING = 0x08,
    // 1.25 ms + 3 x 2.3 ms + 2 x 0.575 ms for x1/x1/x1: the longest that the data sheet allows
    MEASURE_CYCLES = 148800,
};

static void unmeasured(struct ambient *chip)
{
    static const uint8_t reset[8] = {0x80, 0, 0, 0x80, 0, 0, 0x80, 0};
    memcpy(chip->registers + REGISTER_BURST, reset, sizeof reset);
}

// A measurement that has ended shows in the registers.
static void settle(struct emulator *e)
{
    struct ambient *chip = &e->ambient;
    if (!chip->ready || e->avr->cycle < chip->ready) {
        return;
    }
    chip->ready = 0;
    chip->registers[REGISTER_STATUS] &= ~MEASURING;
    chip->registers[REGISTER_CTRL_MEAS] &= ~3;  // forced mode falls back to sleep
    unmeasured(chip);
    if (chip->registers[REGISTER_CTRL_MEAS] & 0x1C) {
        memcpy(chip->registers + REGISTER_BURST, chip->burst, 3);
    }
    if (chip->registers[REGISTER_CTRL_MEAS] & 0xE0) {
        memcpy(chip->registers + REGISTER_BURST + 3, chip->burst + 3, 3);
    }
    if (chip->registers[REGISTER_CTRL_HUM] & 0x07) {
        memcpy(chip->registers + REGISTER_BURST + 6, chip->burst + 6, 2);
    }
}

static void write_register(struct emulator *e, uint8_t where, uint8_t value)
{
    struct ambient *chip = &e->ambient;
    if (where == REGISTER_RESET && value == 0xB6) {
        chip->registers[REGISTER_CTRL_HUM] = chip->registers[REGISTER_CTRL_MEAS] = 0;
        chip->ready = 0;
        unmeasured(chip);
    } else if (where == REGISTER_CTRL_MEAS) {
        chip->registers[where] = value;
        if ((value & 3) == 1 || (value & 3) == 2) {
            chip->ready = e->avr->cycle + MEASURE_CYCLES;
            chip->registers[REGISTER_STATUS] |= MEASURING;
        }
    } else if (where == REGISTER_CTRL_HUM || where == 0xF5) {
        chip->registers[where] = value;
    }
}

static void on_bus(struct avr_irq_t *irq, uint32_t value, void *param)
{
    struct emulator *e = param;
    struct ambient *chip = &e->ambient;
    avr_twi_msg_irq_t message = {.u.v = value};
    uint8_t kind = message.u.twi.msg;
    if (kind & TWI_COND_STOP) {
        chip->selected = false;
    }
    if (kind & TWI_COND_START) {
        chip->selected = chip->present && (message.u.twi.addr >> 1) == ADDRESS;
        if (chip->selected) {
            settle(e);
            chip->pointer_next = !(message.u.twi.addr & 1);
            avr_raise_irq(chip->answer, avr_twi_irq_msg(TWI_COND_ACK, message.u.twi.addr, 1));
        }
        return;
    }
    if (!chip->selected || !chip->present) {
        return;
    }
    if (kind & TWI_COND_WRITE) {
        avr_raise_irq(chip->answer, avr_twi_irq_msg(TWI_COND_ACK, message.u.twi.addr, 1));
        if (chip->pointer_next) {
            chip->pointer = message.u.twi.data;
            chip->pointer_next = false;
        } else {  // writes come in pairs of register and value
            write_register(e, chip->pointer, message.u.twi.data);
            chip->pointer_next = true;
        }
    }
    if (kind & TWI_COND_READ) {
        uint8_t data = chip->registers[chip->pointer++];
        avr_raise_irq(chip->answer, avr_twi_irq_msg(TWI_COND_READ, message.u.twi.addr, data));
    }
}

void ambient_begin(struct emulator *e)
{
    struct ambient *chip = &e->ambient;
    chip->registers[REGISTER_ID] = IDENTITY;
    unmeasured(chip);
    chip->answer = avr_io_getirq(e->avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(e->avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT), on_bus, e);
}

void ambient_set(struct emulator *e, int present, const uint8_t low[26], const uint8_t high[16], const uint8_t burst[8])
{
    struct ambient *chip = &e->ambient;
    settle(e);
    if (present && !chip->present) {  // plugged in: it starts from its own power-on reset
        chip->registers[REGISTER_CTRL_HUM] = chip->registers[REGISTER_CTRL_MEAS] = chip->registers[REGISTER_STATUS] = 0;
        chip->ready = 0;
        unmeasured(chip);
    }
    chip->present = present;
    memcpy(chip->registers + 0x88, low, 26);
    memcpy(chip->registers + 0xE1, high, 16);
    memcpy(chip->burst, burst, 8);
}
