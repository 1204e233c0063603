// Two-wire bus at 100 kHz by interrupt. Every transfer ends within a time-out; a bus that hangs is clocked free.
//
// The steps follow what is left to write and read; the status register is asked only for "acknowledged" or not, written
// and address bytes alike: some simulated chips report 0x28 and 0x30 after an address where the real one has 0x18 and 0x20.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/delay.h>

#include "core/board.h"
#include "core/tick.h"
#include "parts.h"
#include "pins.h"

enum { BUS_HZ = 100000, RECOVERY_CLOCKS = 9, STOP_LOOKS = 100 };
#define TIMEOUT_TICKS (8ul * TICKS_PER_MS)  // the longest transfer, 1 + 1 + 26 bytes, takes 2.6 ms

// Shared with the interrupt: written by the main loop only while state is not BUS_BUSY, by the interrupt only while
// it is. Only `state` is looked at while the transfer runs, so it alone is volatile; barriers order the rest around it.
static volatile uint8_t state = BUS_IDLE;
static uint8_t address;
static const uint8_t *out;
static uint8_t out_left;
static uint8_t *in;
static uint8_t in_left;

static uint32_t begun;  // the main loop's
static uint16_t errors;
static uint16_t recoveries;

enum {
    GO = (1u << TWINT) | (1u << TWEN) | (1u << TWIE),
    GO_START = GO | (1u << TWSTA),
    GO_ACKNOWLEDGE = GO | (1u << TWEA),
    STOP = (1u << TWINT) | (1u << TWEN) | (1u << TWSTO),
};

void twi_begin(void)
{
    DDRC &= (uint8_t)~((1u << SDA_PIN) | (1u << SCL_PIN));
    PORTC |= (1u << SDA_PIN) | (1u << SCL_PIN);  // weak pull-ups: an unplugged bus reads high, not noise
    TWSR = 0;
    TWBR = (F_CPU / BUS_HZ - 16) / 2;
    TWCR = 1u << TWEN;
}

static void finish(uint8_t result)
{
    TWCR = STOP;
    state = result;
}

static void next_byte(void)
{
    if (out_left) {
        out_left--;
        TWDR = *out++;
        TWCR = GO;
    } else if (in_left) {
        TWCR = GO_START;
    } else {
        finish(BUS_DONE);
    }
}

ISR(TWI_vect)
{
    uint8_t status = TWSR & 0xF8;
    switch (status) {
    case 0x08:  // start
    case 0x10:  // repeated start
        TWDR = (uint8_t)(address << 1 | (out_left ? 0 : 1));
        TWCR = GO;
        break;
    case 0x18:  // address or data written and acknowledged
    case 0x28:
        next_byte();
        break;
    case 0x40:  // address for reading acknowledged
        TWCR = in_left > 1 ? GO_ACKNOWLEDGE : GO;
        break;
    case 0x50:  // data read
    case 0x58:
        *in++ = TWDR;
        in_left--;
        if (in_left == 0) {
            finish(BUS_DONE);
        } else {
            TWCR = in_left > 1 ? GO_ACKNOWLEDGE : GO;
        }
        break;
    case 0x20:  // not acknowledged
    case 0x30:
    case 0x48:
        finish(BUS_NO_ANSWER);
        break;
    default:  // arbitration lost, bus error: nobody else drives this bus, so the wires are disturbed
        finish(BUS_FAILED);
        break;
    }
}

bool board_bus_begin(uint8_t to, const uint8_t *bytes, uint8_t out_length, uint8_t *into, uint8_t in_length)
{
    if (state != BUS_IDLE || (out_length | in_length) == 0) {
        return false;
    }
    // The stop of the transfer before takes half a bit, 5 us; a start meanwhile would be lost. Bounded, because a held bus
    // never comes to its stop: then the time-out ends this transfer.
    for (uint8_t i = 0; i < STOP_LOOKS && (TWCR & (1u << TWSTO)); i++) {
    }
    address = to;
    out = bytes;
    out_left = out_length;
    in = into;
    in_left = in_length;
    begun = board_tick();
    __asm__ volatile("" ::: "memory");  // the interrupt finds all of it written
    state = BUS_BUSY;
    TWCR = GO_START;
    return true;
}

// A chip that was cut off in the middle of a byte holds the data line until it has been clocked through it.
static void clock_free(void)
{
    PORTC &= (uint8_t)~((1u << SDA_PIN) | (1u << SCL_PIN));  // lines are pulled low by the direction, never driven high
    for (uint8_t i = 0; i < RECOVERY_CLOCKS; i++) {
        DDRC |= 1u << SCL_PIN;
        _delay_us(5);
        DDRC &= (uint8_t)~(1u << SCL_PIN);
        _delay_us(5);
    }
    DDRC |= 1u << SDA_PIN;  // and a stop condition
    _delay_us(5);
    DDRC &= (uint8_t)~(1u << SDA_PIN);
    _delay_us(5);
}

enum bus_state board_bus_poll(void)
{
    uint8_t was = board_lock();
    enum bus_state result = state;
    if (result == BUS_BUSY && board_tick() - begun > TIMEOUT_TICKS) {
        TWCR = 0;  // the interrupt is off from here
        result = BUS_FAILED;
    }
    if (result != BUS_BUSY) {
        state = BUS_IDLE;
    }
    board_unlock(was);
    if (result == BUS_FAILED) {
        errors++;
        recoveries++;
        TWCR = 0;
        clock_free();
        twi_begin();
    }
    return result;
}

uint16_t twi_errors(void)
{
    return errors;
}

uint16_t twi_recoveries(void)
{
    return recoveries;
}
