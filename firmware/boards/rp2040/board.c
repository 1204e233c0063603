// The rest of the board: start, sleep, watchdog, stack, single pins.
#include <string.h>

#include "core/board.h"
#include "core/messages.h"
#include "core/settings.h"
#include "parts.h"
#include "pins.h"
#include "registers.h"

const uint8_t board_kind = BOARD_KIND_RP2040;

extern uint32_t board_leftover_bits;  // start.c
extern uint32_t _stack_low[];

enum { PAINT = 0xC5, WATCHDOG_TURNS = 2 * 1000000 };  // the counter loses two a microsecond (data sheet, erratum E1)

uint16_t board_channels(void)
{
    return (uint16_t)~CHANNEL_BIT(CHANNEL_KIND_SUPPLY);
}

uint8_t board_pressure_sensor(void)
{
    return SENSOR_KIND_LINEAR_PRESSURE;  // the named ones need 5 V
}

void board_begin(void)
{
    clock_begin();
    flash_begin();
    storage_begin();
    pin_begin(LED_PIN, FUNCTION_SIO, 0);
    pin_begin(SCALE_CLOCK_PIN, FUNCTION_SIO, 0);
    REGISTER(SIO_DRIVE_SET) = ON(LED_PIN) | ON(SCALE_CLOCK_PIN);
    pin_begin(BUTTON_PIN, FUNCTION_SIO, PAD_INPUT | PAD_SCHMITT | PAD_PULL_UP);
    pin_begin(SCALE_DATA_PIN, FUNCTION_SIO, PAD_INPUT | PAD_SCHMITT | PAD_PULL_UP);  // no module reads as high
    uart_begin();
    twi_begin();
    converter_begin();
    REGISTER(PSM_WDSEL) = PSM_ALL_BUT_OSCILLATORS;
    board_feed_watchdog();
    REGISTER(WATCHDOG_CTRL + SET_ALIAS) = ON(WATCHDOG_ENABLE);
    REGISTER(NVIC_PRIORITY(IRQ_ADC)) |= 1ul << (8 * (IRQ_ADC % 4) + 6);  // the rotor's edges go before conversions
    REGISTER(NVIC_ENABLE) = ON(IRQ_ADC) | ON(IRQ_PINS);
    __asm__ volatile("cpsie i" ::: "memory");
}

uint8_t board_lock(void)
{
    uint32_t was;
    __asm__ volatile("mrs %0, primask\n cpsid i" : "=r"(was)::"memory");
    return (uint8_t)was;
}

void board_unlock(uint8_t was)
{
    __asm__ volatile("msr primask, %0" ::"r"((uint32_t)was) : "memory");
}

void board_rest(void)
{
    __asm__ volatile("wfi" ::: "memory");
}

void board_feed_watchdog(void)
{
    REGISTER(WATCHDOG_LOAD) = WATCHDOG_TURNS;
}

uint8_t board_reset_cause(void)
{
    if (REGISTER(WATCHDOG_REASON)) {
        return RESET_CAUSE_WATCHDOG;
    }
    uint32_t why = REGISTER(CHIP_RESET);
    if (why & ON(HAD_POWER_ON)) {
        return RESET_CAUSE_POWER_ON;
    }
    return (why & ON(HAD_RUN_PIN)) ? RESET_CAUSE_EXTERNAL : 0;
}

uint16_t board_stack_free(void)
{
    const uint8_t *byte = (const uint8_t *)_stack_low;
    while (*byte == PAINT) {
        byte++;
    }
    return (uint16_t)(byte - (const uint8_t *)_stack_low);
}

// The flash chip has a number of its own, 64 bits long.
uint32_t board_leftover(void)
{
    static const uint8_t command[5] = {0x4B};
    uint32_t number[2];
    flash_ask(command, sizeof command, (uint8_t *)number, sizeof number);
    return board_leftover_bits ^ number[0] ^ (number[1] << 16 | number[1] >> 16);
}

void board_led(bool lit)
{
    REGISTER(lit ? SIO_OUT_SET : SIO_OUT_CLEAR) = ON(LED_PIN);
}

bool board_button_down(void)
{
    return !(REGISTER(SIO_IN) & ON(BUTTON_PIN));
}

bool board_scale_ready(void)
{
    return !(REGISTER(SIO_IN) & ON(SCALE_DATA_PIN));
}

bool board_scale_clock(void)
{
    uint8_t was = board_lock();  // a high phase of 60 us would switch the converter off
    REGISTER(SIO_OUT_SET) = ON(SCALE_CLOCK_PIN);
    __asm__ volatile("" ::: "memory");
    wait_us(1);  // data valid after 0.1 us
    bool bit = REGISTER(SIO_IN) & ON(SCALE_DATA_PIN);
    REGISTER(SIO_OUT_CLEAR) = ON(SCALE_CLOCK_PIN);
    board_unlock(was);
    return bit;
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

void board_pin(uint8_t channel_kind, char name[4])
{
    static const char pins[][5] = {"", "GP26", "GP27", "GP3", "GP27", "GP28", "", "GP4", "GP6", "GP2"};
    memcpy(name, pins[channel_kind], 4);
}
