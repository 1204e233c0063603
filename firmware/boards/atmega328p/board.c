// The rest of the board: start, sleep, watchdog, storage, stack, single pins.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <string.h>

#include "core/board.h"
#include "core/messages.h"
#include "parts.h"
#include "pins.h"

const uint8_t board_kind = BOARD_KIND_ATMEGA328P;

extern uint8_t board_reset_bits;  // start.S
extern uint32_t board_leftover_bits;

enum { PAINT = 0xC5 };  // as in start.S
enum { BOOT_SECTION_2K = 0x7800, BOOT_SECTION_HALF_K = 0x7E00 };  // data sheet, "Boot Size Configuration"
extern uint8_t _end;  // first byte behind the variables: the stack grows down towards it

// Bootloaders of 2 KiB, as on older boards, leave the watchdog armed at its shortest after it has reset the chip, and so are
// reset again before they hand over (common practice, no source). Those of 0.5 KiB turn it off, and leave this free.
static bool old_bootloader(void)
{
    for (uint16_t at = BOOT_SECTION_2K; at < BOOT_SECTION_HALF_K; at += 2) {
        if (pgm_read_word(at) != 0xFFFFu) {
            return true;
        }
    }
    return false;
}

void board_begin(void)
{
    while (EECR & (1u << EEPE)) {  // a write that the reset met is completed first, at most 3.4 ms; data sheet 8.4
    }
    DDRB |= 1u << LED_PIN;
    PORTB |= (1u << ROTOR_PIN) | UNUSED_B;  // pull-ups: without a rotor, a button or a module the pin reads high,
    PORTD |= (1u << BUTTON_PIN) | (1u << SCALE_DATA_PIN) | UNUSED_D;  // and no pin floats; data sheet 14.2.6
    DDRD |= 1u << SCALE_CLOCK_PIN;
    clock_begin();
    uart_begin();
    twi_begin();
    converter_begin();
    if (!old_bootloader()) {
        wdt_enable(WDTO_1S);
    }
    SMCR = 0;  // idle: timers, converter and line go on
    sei();
}

uint8_t board_lock(void)
{
    uint8_t was = SREG;
    cli();
    return was;
}

void board_unlock(uint8_t was)
{
    __asm__ volatile("" ::: "memory");
    SREG = was;
}

void board_rest(void)
{
    sleep_mode();  // at most one conversion, 104 us: nothing is lost by sleeping past an event
}

void board_feed_watchdog(void)
{
    wdt_reset();
}

uint8_t board_reset_cause(void)
{
    return board_reset_bits;
}

uint16_t board_stack_free(void)
{
    const uint8_t *byte = &_end;
    while (*byte == PAINT) {
        byte++;
    }
    return (uint16_t)(byte - &_end);
}

uint32_t board_leftover(void)
{
    return board_leftover_bits;
}

void board_led(bool lit)
{
    if (lit) {
        PORTB |= 1u << LED_PIN;
    } else {
        PORTB &= (uint8_t)~(1u << LED_PIN);
    }
}

bool board_button_down(void)
{
    return !(PIND & (1u << BUTTON_PIN));
}

bool board_scale_ready(void)
{
    return !(PIND & (1u << SCALE_DATA_PIN));
}

bool board_scale_clock(void)
{
    uint8_t was = board_lock();  // a high phase of 60 us would switch the converter off
    PORTD |= 1u << SCALE_CLOCK_PIN;
    __asm__ volatile("nop\n nop\n nop\n nop\n");  // data valid after 0.1 us, and the pin's synchroniser
    bool bit = PIND & (1u << SCALE_DATA_PIN);
    PORTD &= (uint8_t)~(1u << SCALE_CLOCK_PIN);
    board_unlock(was);
    return bit;
}

bool board_storage_ready(void)
{
    return !(EECR & (1u << EEPE));
}

uint8_t board_storage_read(uint16_t address)
{
    EEAR = address;
    EECR |= 1u << EERE;
    return EEDR;
}

void board_storage_write(uint16_t address, uint8_t byte)
{
    EEAR = address;
    EEDR = byte;
    uint8_t was = board_lock();  // the two bits must be set within four cycles
    EECR |= 1u << EEMPE;
    EECR |= 1u << EEPE;
    board_unlock(was);
}

struct board_counts board_counts(void)
{
    uint8_t was = board_lock();
    struct board_counts counts = {
        .bus_errors = twi_errors(),
        .bus_recoveries = twi_recoveries(),
        .receive_errors = uart_receive_errors(),
        .ring_high_water = uart_high_water(),
    };
    board_unlock(was);
    return counts;
}

uint16_t board_channels(void)
{
    return 0xFFFF;
}

uint8_t board_pressure_sensor(void)
{
    return SENSOR_KIND_MPX5050;
}

static const char pins[][5] PROGMEM = {
    "", "PC0", "PC3", "PB0", "PC1", "PC2", "AVCC", "PC4", "PD4", "PD2",
};

void board_pin(uint8_t channel_kind, char name[4])
{
    memcpy_P(name, pins[channel_kind], 4);
}
