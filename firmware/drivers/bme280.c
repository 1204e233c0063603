#include "drivers/bme280.h"

#include <string.h>

#include "core/board.h"
#include "core/tick.h"

enum {
    ADDRESS_A = 0x76,
    ADDRESS_B = 0x77,
    REGISTER_LOW = 0x88,
    REGISTER_ID = 0xD0,
    REGISTER_HIGH = 0xE1,
    REGISTER_CTRL_HUM = 0xF2,
    REGISTER_CTRL_MEAS = 0xF4,
    REGISTER_BURST = 0xF7,
    HUMIDITY_X1 = 0x01,
    FORCED_X1_X1 = 0x25,  // temperature x1, pressure x1, forced mode
};

#define EVERY (1000ul * TICKS_PER_MS)
#define MEASURING (12ul * TICKS_PER_MS)  // at most 9.3 ms at x1/x1/x1, data sheet 9.1

enum { WAITING, ID, LOW, HIGH, IDLE, CTRL_HUM, CTRL_MEAS, MEASURE, BURST };

void bme280_begin(struct bme280 *chip, uint32_t now)
{
    memset(chip, 0, sizeof *chip);
    chip->state = WAITING;
    chip->address = ADDRESS_A;
    chip->next = now;
}

bool bme280_measured(const uint8_t burst[BME280_BURST])
{
    static const uint8_t reset[3] = {0x80, 0x00, 0x00};
    return memcmp(burst, reset, 3) != 0 && memcmp(burst + 3, reset, 3) != 0;
}

static void read_registers(struct bme280 *chip, uint8_t state, uint8_t first, uint8_t *in, uint8_t length)
{
    chip->out[0] = first;
    if (board_bus_begin(chip->address, chip->out, 1, in, length)) {
        chip->state = state;
    }
}

static void write_register(struct bme280 *chip, uint8_t state, uint8_t which, uint8_t value)
{
    chip->out[0] = which;
    chip->out[1] = value;
    if (board_bus_begin(chip->address, chip->out, 2, 0, 0)) {
        chip->state = state;
    }
}

// Nothing, or nothing of ours, at this address. True when there is something to tell.
static bool lose(struct bme280 *chip, uint32_t now, uint8_t flags)
{
    bool searched_both = chip->address == ADDRESS_B;
    bool was_present = chip->present;
    chip->present = false;
    chip->state = WAITING;
    chip->address = searched_both ? ADDRESS_A : ADDRESS_B;
    memset(chip->burst, 0, sizeof chip->burst);
    if (was_present) {
        chip->losses++;
    } else if (!searched_both) {
        return false;  // the other address at once
    }
    chip->probed = true;
    chip->next = now + EVERY;
    chip->flags = was_present ? DEVICE_FLAG_BUS_ERROR : flags;
    return true;
}

// Starts what comes after the state whose transfer has just ended well. True when there is something to tell.
static bool succeed(struct bme280 *chip, uint32_t now)
{
    switch (chip->state) {
    case ID:
        chip->chip_id = chip->burst[0];
        if (chip->chip_id != BME280_CHIP && chip->chip_id != BMP280_CHIP) {
            return lose(chip, now, 0);  // somebody else lives there
        }
        read_registers(chip, LOW, REGISTER_LOW, chip->low, BME280_LOW);
        break;
    case LOW:
        read_registers(chip, HIGH, REGISTER_HIGH, chip->high, BME280_HIGH);
        break;
    case HIGH:
        chip->present = true;
        chip->probed = true;
        chip->state = IDLE;
        chip->next = now;
        break;
    case CTRL_HUM:  // takes effect with the write to CTRL_MEAS that follows
        write_register(chip, CTRL_MEAS, REGISTER_CTRL_MEAS, FORCED_X1_X1);
        break;
    case CTRL_MEAS:
        chip->state = MEASURE;
        chip->next += MEASURING;
        break;
    case BURST:
        chip->state = IDLE;
        chip->next += EVERY - MEASURING;
        if (chip->chip_id == BMP280_CHIP) {
            chip->burst[6] = 0x80;  // no humidity: the reset value, as the BME280 has it
            chip->burst[7] = 0x00;
        }
        chip->flags = DEVICE_FLAG_PRESENT;
        if (bme280_measured(chip->burst)) {
            chip->flags |= DEVICE_FLAG_FRESH;
        }
        return true;
    default:
        break;
    }
    return false;
}

bool bme280_turn(struct bme280 *chip, uint32_t now)
{
    switch (chip->state) {
    case WAITING:
        if (!tick_waits(now, chip->next, EVERY)) {
            read_registers(chip, ID, REGISTER_ID, chip->burst, 1);
        }
        return false;
    case IDLE:
        if (!tick_waits(now, chip->next, EVERY)) {
            if (now - chip->next > EVERY) {
                chip->next = now;  // nobody asked for longer than that: the pace begins here
            }
            write_register(chip, CTRL_HUM, REGISTER_CTRL_HUM, HUMIDITY_X1);
        }
        return false;
    case MEASURE:
        if (!tick_waits(now, chip->next, MEASURING)) {
            read_registers(chip, BURST, REGISTER_BURST, chip->burst, chip->chip_id == BMP280_CHIP ? 6 : 8);
        }
        return false;
    default:
        break;
    }
    enum bus_state bus = board_bus_poll();
    if (bus == BUS_BUSY) {
        return false;
    }
    if (bus == BUS_DONE) {
        return succeed(chip, now);
    }
    return lose(chip, now, bus == BUS_FAILED ? DEVICE_FLAG_BUS_ERROR : 0);
}
