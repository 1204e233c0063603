// Two-wire bus at 100 kHz by the chip's own controller. Its queues hold 16 bytes; the conversion interrupt feeds and empties
// them every 104 us, a byte's time. A bus that hangs is clocked free.
#include "core/board.h"
#include "core/tick.h"
#include "parts.h"
#include "pins.h"
#include "registers.h"

enum { RECOVERY_CLOCKS = 9, HALF_BIT_US = 5 };
#define TIMEOUT_TICKS (8ul * TICKS_PER_MS)  // the longest transfer, 1 + 1 + 26 bytes, takes 2.6 ms

// Written by the main loop only while state is not BUS_BUSY, by the interrupt only while it is.
static volatile uint8_t state = BUS_IDLE;
static const uint8_t *out;
static uint8_t out_left;
static uint8_t *in;
static uint8_t in_to_ask;
static uint8_t in_left;
static bool restart;
static uint32_t begun;
static uint16_t errors;
static uint16_t recoveries;

void twi_begin(void)
{
    uint32_t pad = PAD_INPUT | PAD_SCHMITT | PAD_PULL_UP;  // weak pull-ups: an unplugged bus reads high, not noise
    pin_begin(SDA_PIN, FUNCTION_I2C, pad);
    pin_begin(SCL_PIN, FUNCTION_I2C, pad);
    REGISTER(I2C_ENABLE) = 0;
    REGISTER(I2C_CON) = I2C_MASTER_100K;
    REGISTER(I2C_HIGH) = CLOCK_HZ / 200000 - 8;  // the controller adds 8 clocks of its own
    REGISTER(I2C_LOW) = CLOCK_HZ / 200000;
}

bool board_bus_begin(uint8_t to, const uint8_t *bytes, uint8_t out_length, uint8_t *into, uint8_t in_length)
{
    if (state != BUS_IDLE || (out_length | in_length) == 0) {
        return false;
    }
    REGISTER(I2C_ENABLE) = 0;
    REGISTER(I2C_TARGET) = to;
    REGISTER(I2C_ENABLE) = 1;
    (void)REGISTER(I2C_CLEAR_STOP);
    out = bytes;
    out_left = out_length;
    in = into;
    in_to_ask = in_left = in_length;
    restart = out_length != 0;
    begun = board_tick();
    __asm__ volatile("" ::: "memory");  // the interrupt finds all of it written
    state = BUS_BUSY;
    return true;
}

static void feed(void)
{
    while ((out_left || in_to_ask) && (REGISTER(I2C_STATUS) & ON(I2C_ROOM))) {
        uint32_t word;
        if (out_left) {
            out_left--;
            word = *out++;
        } else {
            word = I2C_READ | (restart ? I2C_RESTART : 0);
            restart = false;
            in_to_ask--;
        }
        REGISTER(I2C_DATA) = word | (out_left || in_to_ask ? 0 : I2C_STOP);
    }
    while (in_left && (REGISTER(I2C_STATUS) & ON(I2C_ANSWERED))) {
        *in++ = (uint8_t)REGISTER(I2C_DATA);
        in_left--;
    }
}

void twi_turn(void)
{
    if (state != BUS_BUSY) {
        return;
    }
    feed();
    if (REGISTER(I2C_RAW) & ON(I2C_RAW_ABORT)) {
        uint32_t why = REGISTER(I2C_ABORT_SOURCE);
        (void)REGISTER(I2C_CLEAR_ABORT);
        state = (why & (I2C_NO_ADDRESS | I2C_NO_DATA)) ? BUS_NO_ANSWER : BUS_FAILED;
    } else if (!out_left && !in_left && (REGISTER(I2C_RAW) & ON(I2C_RAW_STOP))) {
        state = BUS_DONE;
    }
}

// A chip that was cut off in the middle of a byte holds the data line until it has been clocked through it.
static void clock_free(void)
{
    REGISTER(SIO_OUT_CLEAR) = ON(SDA_PIN) | ON(SCL_PIN);  // lines are pulled low by the direction, never driven high
    REGISTER(SIO_DRIVE_CLEAR) = ON(SDA_PIN) | ON(SCL_PIN);
    REGISTER(PIN_CTRL(SDA_PIN)) = FUNCTION_SIO;
    REGISTER(PIN_CTRL(SCL_PIN)) = FUNCTION_SIO;
    for (uint8_t i = 0; i < RECOVERY_CLOCKS; i++) {
        REGISTER(SIO_DRIVE_SET) = ON(SCL_PIN);
        wait_us(HALF_BIT_US);
        REGISTER(SIO_DRIVE_CLEAR) = ON(SCL_PIN);
        wait_us(HALF_BIT_US);
    }
    REGISTER(SIO_DRIVE_SET) = ON(SDA_PIN);  // and a stop condition
    wait_us(HALF_BIT_US);
    REGISTER(SIO_DRIVE_CLEAR) = ON(SDA_PIN);
    wait_us(HALF_BIT_US);
}

enum bus_state board_bus_poll(void)
{
    uint8_t was = board_lock();
    enum bus_state result = state;
    if (result == BUS_BUSY && board_tick() - begun > TIMEOUT_TICKS) {
        result = BUS_FAILED;
    }
    if (result != BUS_BUSY) {
        state = BUS_IDLE;  // the interrupt leaves it alone from here
    }
    board_unlock(was);
    if (result == BUS_FAILED) {
        errors++;
        recoveries++;
        REGISTER(I2C_ENABLE) = 0;
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
