// BME280 (and BMP280, which lacks humidity): found, read and lost at run time. Raw counts and trimming only.
// Registers, times and the trimming layout: Bosch BME280 data sheet, sections 4.2.2, 5.3, 9.1; BMP280 3.11.2.
#ifndef FROTHLINE_BME280_H
#define FROTHLINE_BME280_H

#include <stdbool.h>
#include <stdint.h>

enum { BME280_CHIP = 0x60, BMP280_CHIP = 0x58, BME280_LOW = 26, BME280_HIGH = 16, BME280_BURST = 8 };

struct bme280 {
    uint8_t state;
    uint8_t address;
    uint8_t chip_id;
    bool present;
    bool probed;        // the first search is over, with whatever result
    uint8_t flags;      // DEVICE_FLAG_* of the last turn that said true
    uint32_t next;      // tick of the next measurement or search
    uint8_t low[BME280_LOW];    // registers 0x88 to 0xA1
    uint8_t high[BME280_HIGH];  // registers 0xE1 to 0xF0
    uint8_t burst[BME280_BURST];
    uint8_t out[2];     // what the bus is writing
    uint16_t losses;    // times it stopped answering
};

void bme280_begin(struct bme280 *chip, uint32_t now);

// Called about once a millisecond; never waits. True about once a second, when flags and burst say something new.
bool bme280_turn(struct bme280 *chip, uint32_t now);

// A burst whose temperature or pressure is the reset value has not been measured.
bool bme280_measured(const uint8_t burst[BME280_BURST]);

#endif
