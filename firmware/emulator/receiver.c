// The simulator's own receiver holds 64 bytes and hands a waiting byte on a byte's time after the one before was read. The
// chip's holds two and one in the shift register, at once: ATmega328P data sheet, "Receiver Error Flags", data overrun.
#include "receiver.h"

#include <string.h>

enum { UDR0 = 0xC6, UCSR0A = 0xC0, COMPLETE_BIT = 1 << 7, OVERRUN_BIT = 1 << 3 };

static uint8_t on_data_read(struct avr_t *avr, avr_io_addr_t address, void *param)
{
    struct emulator *e = param;
    struct receiver *r = &e->receiver;
    uint8_t byte = r->bytes[0];
    if (r->count) {
        r->count--;
        memmove(r->bytes, r->bytes + 1, r->count);
    }
    r->overrun = false;
    avr_clear_interrupt(avr, &r->uart->rxc);
    if (r->count) {
        avr_raise_interrupt(avr, &r->uart->rxc);
    }
    avr->data[address] = byte;
    return byte;
}

static uint8_t on_status_read(struct avr_t *avr, avr_io_addr_t address, void *param)
{
    struct emulator *e = param;
    const struct receiver *r = &e->receiver;
    uint8_t status = r->chip_status ? r->chip_status(avr, address, r->chip_status_param) : avr->data[address];
    status = r->count ? status | COMPLETE_BIT : status & (uint8_t)~COMPLETE_BIT;  // also inside its interrupt
    return r->overrun ? status | OVERRUN_BIT : status;
}

void receiver_begin(struct emulator *e)
{
    avr_t *avr = e->avr;
    struct receiver *r = &e->receiver;
    for (avr_io_t *part = avr->io_port; part; part = part->next) {
        if (strcmp(part->kind, "uart") == 0) {
            r->uart = (avr_uart_t *)part;
        }
    }
    avr_io_addr_t data = AVR_DATA_TO_IO(UDR0), status = AVR_DATA_TO_IO(UCSR0A);
    avr->io[data].r.c = on_data_read;
    avr->io[data].r.param = e;
    r->chip_status = avr->io[status].r.c;
    r->chip_status_param = avr->io[status].r.param;
    avr->io[status].r.c = on_status_read;
    avr->io[status].r.param = e;
}

void receiver_clear(struct emulator *e)
{
    e->receiver.count = 0;
    e->receiver.coming = e->receiver.overrun = false;
}

void receiver_start(struct emulator *e, uint8_t byte)
{
    struct receiver *r = &e->receiver;
    if (r->count == sizeof r->bytes) {
        r->overrun = true;
        r->lost++;
        return;
    }
    r->coming = true;
    r->byte = byte;
    r->whole = e->avr->cycle + RECEIVER_BYTE_CYCLES;
}

void receiver_turn(struct emulator *e)
{
    struct receiver *r = &e->receiver;
    if (r->coming && r->whole <= e->avr->cycle) {
        r->coming = false;
        r->bytes[r->count++] = r->byte;
        avr_raise_interrupt(e->avr, &r->uart->rxc);
    }
}

avr_cycle_count_t receiver_next(const struct emulator *e)
{
    return e->receiver.coming ? e->receiver.whole : 0;
}
