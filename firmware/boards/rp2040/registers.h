// Registers of the RP2040 that this board uses. Addresses and bits: RP2040 data sheet, sections 2.14 to 4.10 (from memory;
// the emulated board and the names of the sections are the check).
#ifndef FROTHLINE_REGISTERS_H
#define FROTHLINE_REGISTERS_H

#include <stdint.h>

#define REGISTER(address) (*(volatile uint32_t *)(uintptr_t)(address))
#define ON(bit) (1ul << (bit))

// Every peripheral register can also be written at these distances: bits set, bits cleared.
enum { SET_ALIAS = 0x2000, CLEAR_ALIAS = 0x3000 };

// 2.14 resets
#define RESETS_RESET 0x4000C000ul
#define RESETS_DONE 0x4000C008ul
enum {
    RESET_ADC = 0, RESET_I2C0 = 3, RESET_IO_BANK0 = 5, RESET_IO_QSPI = 6, RESET_PADS_BANK0 = 8, RESET_PADS_QSPI = 9,
    RESET_PLL_SYS = 12, RESET_TIMER = 21, RESET_UART0 = 22,
};

// 2.15, 2.16 clocks and crystal
#define XOSC_CTRL 0x40024000ul
#define XOSC_STATUS 0x40024004ul
#define XOSC_STARTUP 0x4002400Cul
enum { XOSC_1_TO_15_MHZ = 0xAA0, XOSC_STABLE = 31 };
#define XOSC_ENABLE (0xFABul << 12)
#define PLL_CS 0x40028000ul
#define PLL_POWER 0x40028004ul
#define PLL_MULTIPLIER 0x40028008ul
#define PLL_DIVIDERS 0x4002800Cul
enum { PLL_LOCKED = 31, PLL_DOWN = 1 | 1 << 5, PLL_DIVIDERS_DOWN = 1 << 3 };
#define CLK_REF_CTRL 0x40008030ul
#define CLK_REF_SELECTED 0x40008038ul
#define CLK_SYS_CTRL 0x4000803Cul
#define CLK_SYS_SELECTED 0x40008044ul
#define CLK_PERI_CTRL 0x40008048ul
#define CLK_ADC_CTRL 0x40008060ul
enum { CLK_REF_FROM_XOSC = 2, CLK_SYS_FROM_AUX = 1, CLK_ENABLE = 11, CLK_ADC_FROM_XOSC = 3 << 5 };

// 2.13 power-on state machine, 2.12.8 chip reset
#define PSM_WDSEL 0x40010008ul
#define CHIP_RESET 0x40064008ul
enum { HAD_POWER_ON = 8, HAD_RUN_PIN = 16 };
#define PSM_ALL_BUT_OSCILLATORS 0x1FFFCul

// 4.7 watchdog, 4.6 timer
#define WATCHDOG_CTRL 0x40058000ul
#define WATCHDOG_LOAD 0x40058004ul
#define WATCHDOG_REASON 0x40058008ul
#define WATCHDOG_TICK 0x4005802Cul
enum { WATCHDOG_ENABLE = 30, WATCHDOG_TICK_ENABLE = 9 };
#define TIMER_LOW 0x40054028ul  // TIMERAWL, microseconds

// 2.19 pins
#define PIN_CTRL(pin) (0x40014004ul + 8ul * (pin))
#define PIN_INTERRUPTS(pin) (0x400140F0ul + 4ul * ((pin) / 8))          // INTR: writing a bit clears an edge
#define PIN_INTERRUPTS_ENABLED(pin) (0x40014100ul + 4ul * ((pin) / 8))  // PROC0_INTE
#define PIN_INTERRUPTS_SEEN(pin) (0x40014120ul + 4ul * ((pin) / 8))     // PROC0_INTS
#define EDGE_LOW(pin) ON(4 * ((pin) % 8) + 2)
#define PAD(pin) (0x4001C004ul + 4ul * (pin))
enum { FUNCTION_UART = 2, FUNCTION_I2C = 3, FUNCTION_SIO = 5, FUNCTION_NONE = 31 };
enum { PAD_SCHMITT = 1 << 1, PAD_PULL_UP = 1 << 3, PAD_INPUT = 1 << 6, PAD_NO_OUTPUT = 1 << 7 };
#define QSPI_SELECT_CTRL 0x4001800Cul  // GPIO_QSPI_SS_CTRL
enum { QSPI_SELECT_LOW = 2 << 8, QSPI_SELECT_HIGH = 3 << 8 };

// 2.3.1 single-cycle pins
#define SIO_IN 0xD0000004ul
#define SIO_OUT_SET 0xD0000014ul
#define SIO_OUT_CLEAR 0xD0000018ul
#define SIO_DRIVE_SET 0xD0000024ul
#define SIO_DRIVE_CLEAR 0xD0000028ul

// 4.2 serial line
#define UART_DATA 0x40034000ul
#define UART_FLAGS 0x40034018ul
#define UART_WHOLE 0x40034024ul
#define UART_FRACTION 0x40034028ul
#define UART_LINE 0x4003402Cul
#define UART_CTRL 0x40034030ul
enum { UART_EMPTY = 4, UART_FULL = 5, UART_FIFO = 4, UART_8_BITS = 3 << 5, UART_ON = 0x301, UART_BAD = 0xF00 };

// 4.3 two-wire bus
#define I2C_CON 0x40044000ul
#define I2C_TARGET 0x40044004ul
#define I2C_DATA 0x40044010ul
#define I2C_HIGH 0x40044014ul
#define I2C_LOW 0x40044018ul
#define I2C_RAW 0x40044034ul
#define I2C_CLEAR_ABORT 0x40044054ul
#define I2C_CLEAR_STOP 0x40044060ul
#define I2C_ENABLE 0x4004406Cul
#define I2C_STATUS 0x40044070ul
#define I2C_ABORT_SOURCE 0x40044080ul
enum {
    I2C_MASTER_100K = 1 | (1 << 1) | (1 << 5) | (1 << 6) | (1 << 9),  // bit 9: waits when its receiver is full
    I2C_READ = 1 << 8, I2C_STOP = 1 << 9, I2C_RESTART = 1 << 10,
    I2C_RAW_ABORT = 6, I2C_RAW_STOP = 9, I2C_ROOM = 1, I2C_ANSWERED = 3, I2C_NO_ADDRESS = 1, I2C_NO_DATA = 1 << 3,
};

// 4.9 analog converter
#define ADC_CS 0x4004C000ul
#define ADC_FCS 0x4004C008ul
#define ADC_FIFO 0x4004C00Cul
#define ADC_DIV 0x4004C010ul
#define ADC_INTE 0x4004C018ul
enum { ADC_ON = 1, ADC_MANY = 1 << 3, ADC_READY = 1 << 8, ADC_INPUT = 12, ADC_FIFO_ON = 1, ADC_FIFO_EMPTY = 1 << 8 };

// 4.10.13 the flash's serial interface
#define SSI_CTRLR0 0x18000000ul
#define SSI_ENABLE 0x18000008ul
#define SSI_SELECT 0x18000010ul
#define SSI_BAUD 0x18000014ul
#define SSI_STATUS 0x18000028ul
#define SSI_DATA 0x18000060ul
enum { SSI_8_BITS = 7 << 16, SSI_ROOM = 1 << 1, SSI_HAS_BYTE = 1 << 3, SSI_BUSY = 1 << 0 };

// 2.3.2 and the ARMv6-M manual: interrupts
#define NVIC_ENABLE 0xE000E100ul
#define NVIC_PRIORITY(number) (0xE000E400ul + 4ul * ((number) / 4))
#define VECTOR_TABLE 0xE000ED08ul
enum { IRQ_PINS = 13, IRQ_ADC = 22 };

#endif
