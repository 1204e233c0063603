// The chip's EEPROM: kept by the host between runs, and what a power cut leaves of a byte that was being written.
#include "storage.h"

#include <avr_eeprom.h>

enum {
    EECR = 0x3F,
    EEDR = 0x40,
    EEARL = 0x41,
    EEARH = 0x42,
    EEMPE = 1 << 2,
    EEPE = 1 << 1,
    // erase and write takes 3.4 ms (ATmega328P data sheet, table 8-1)
    WRITE_CYCLES = 54400,
};

static uint8_t peek(struct emulator *e, uint16_t address)
{
    uint8_t byte = 0;
    avr_eeprom_desc_t one = {.ee = &byte, .offset = address, .size = 1};
    avr_ioctl(e->avr, AVR_IOCTL_EEPROM_GET, &one);
    return byte;
}

static void poke(struct emulator *e, uint16_t address, uint8_t byte)
{
    avr_eeprom_desc_t one = {.ee = &byte, .offset = address, .size = 1};
    avr_ioctl(e->avr, AVR_IOCTL_EEPROM_SET, &one);
}

// The simulator writes at once when the write bit is set; this looks just before it does.
static void on_control(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *param)
{
    struct emulator *e = param;
    if ((avr->data[EECR] & EEMPE) && (value & EEPE)) {
        e->storage.address = (uint16_t)(avr->data[EEARL] | avr->data[EEARH] << 8) % EMULATOR_STORAGE;
        e->storage.before = peek(e, e->storage.address);
        e->storage.written = avr->cycle;
    }
}

static void on_write(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *param)
{
    struct emulator *e = param;
    on_control(avr, address, value, param);
    e->storage.chip_write(avr, address, value, e->storage.chip_param);
}

void storage_begin(struct emulator *e)
{
    int slot = AVR_DATA_TO_IO(EECR);
    e->storage.chip_write = e->avr->io[slot].w.c;
    e->storage.chip_param = e->avr->io[slot].w.param;
    e->avr->io[slot].w.c = on_write;
    e->avr->io[slot].w.param = e;
}

bool storage_busy(const struct emulator *e)
{
    return e->storage.written && e->avr->cycle - e->storage.written < WRITE_CYCLES;
}

void storage_get(struct emulator *e, uint8_t bytes[EMULATOR_STORAGE])
{
    for (uint16_t i = 0; i < EMULATOR_STORAGE; i++) {
        bytes[i] = peek(e, i);
    }
}

void storage_set(struct emulator *e, const uint8_t bytes[EMULATOR_STORAGE])
{
    for (uint16_t i = 0; i < EMULATOR_STORAGE; i++) {
        poke(e, i, bytes[i]);
    }
}

void storage_cut_power(struct emulator *e, uint32_t luck)
{
    if (storage_busy(e)) {
        uint8_t new = peek(e, e->storage.address);
        uint8_t left[4] = {e->storage.before, new, 0xFF, (uint8_t)(new | (luck >> 8))};
        poke(e, e->storage.address, left[luck & 3]);
    }
    e->storage.written = 0;
}
