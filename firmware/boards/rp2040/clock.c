// The board clock: the chip's microsecond counter, doubled; and the rotor's edges, stamped in their interrupt.
#include "core/board.h"
#include "core/messages.h"
#include "core/stream.h"
#include "parts.h"
#include "pins.h"
#include "registers.h"

_Static_assert(CRYSTAL_HZ / 12 * 125 == CLOCK_HZ, "the multiplied clock");
_Static_assert(WIRE_TICK_HZ == 2000000, "a tick is half a microsecond");

void wait_us(uint32_t microseconds)
{
    uint32_t end = REGISTER(TIMER_LOW) + microseconds + 1;
    while ((int32_t)(REGISTER(TIMER_LOW) - end) < 0) {
    }
}

static void release(uint32_t blocks)
{
    REGISTER(RESETS_RESET + CLEAR_ALIAS) = blocks;
    while ((REGISTER(RESETS_DONE) & blocks) != blocks) {
    }
}

void clock_begin(void)
{
    REGISTER(XOSC_STARTUP) = 47;  // 1 ms in units of 256 cycles, as the data sheet advises
    REGISTER(XOSC_CTRL) = XOSC_1_TO_15_MHZ | XOSC_ENABLE;
    while (!(REGISTER(XOSC_STATUS) & ON(XOSC_STABLE))) {
    }
    REGISTER(CLK_REF_CTRL) = CLK_REF_FROM_XOSC;
    while (!(REGISTER(CLK_REF_SELECTED) & ON(CLK_REF_FROM_XOSC))) {
    }
    REGISTER(CLK_SYS_CTRL) = 0;  // from the reference, while the multiplied clock is set up
    while (!(REGISTER(CLK_SYS_SELECTED) & 1u)) {
    }
    release(ON(RESET_PLL_SYS));
    REGISTER(PLL_CS) = 1;
    REGISTER(PLL_MULTIPLIER) = 125;  // 1500 MHz
    REGISTER(PLL_POWER + CLEAR_ALIAS) = PLL_DOWN;
    while (!(REGISTER(PLL_CS) & ON(PLL_LOCKED))) {
    }
    REGISTER(PLL_DIVIDERS) = 6ul << 16 | 2ul << 12;  // by 12
    REGISTER(PLL_POWER + CLEAR_ALIAS) = PLL_DIVIDERS_DOWN;
    REGISTER(CLK_SYS_CTRL) = CLK_SYS_FROM_AUX;  // whose source is that clock
    while (!(REGISTER(CLK_SYS_SELECTED) & ON(CLK_SYS_FROM_AUX))) {
    }
    REGISTER(CLK_PERI_CTRL) = ON(CLK_ENABLE);  // from the system clock
    REGISTER(CLK_ADC_CTRL) = ON(CLK_ENABLE) | CLK_ADC_FROM_XOSC;
    REGISTER(WATCHDOG_TICK) = ON(WATCHDOG_TICK_ENABLE) | (CRYSTAL_HZ / 1000000);  // 1 MHz for timer and watchdog
    release(ON(RESET_ADC) | ON(RESET_I2C0) | ON(RESET_IO_BANK0) | ON(RESET_IO_QSPI) | ON(RESET_PADS_BANK0)
            | ON(RESET_PADS_QSPI) | ON(RESET_TIMER) | ON(RESET_UART0));
    pin_begin(ROTOR_PIN, FUNCTION_SIO, PAD_INPUT | PAD_SCHMITT | PAD_PULL_UP);
    REGISTER(PIN_INTERRUPTS(ROTOR_PIN)) = EDGE_LOW(ROTOR_PIN);
    REGISTER(PIN_INTERRUPTS_ENABLED(ROTOR_PIN)) = EDGE_LOW(ROTOR_PIN);
}

void pin_begin(uint8_t pin, uint8_t function, uint32_t pad)
{
    REGISTER(PAD(pin)) = pad;
    REGISTER(PIN_CTRL(pin)) = function;
}

uint32_t board_tick(void)
{
    return REGISTER(TIMER_LOW) << 1;  // 2^32 ticks are 2^31 us, half a turn of the counter
}

void pin_interrupt(void);

void pin_interrupt(void)
{
    uint32_t tick = board_tick();
    if (REGISTER(PIN_INTERRUPTS_SEEN(ROTOR_PIN)) & EDGE_LOW(ROTOR_PIN)) {
        REGISTER(PIN_INTERRUPTS(ROTOR_PIN)) = EDGE_LOW(ROTOR_PIN);
        stream_edge(tick);
    }
}
