// What the board keeps through power cuts.
#ifndef FROTHLINE_SETTINGS_H
#define FROTHLINE_SETTINGS_H

#include <stdbool.h>
#include <stdint.h>

#include "core/messages.h"
#include "core/record.h"

#define CHANNEL_BIT(kind) (1u << (kind))

enum { SETTINGS_FORMAT = 1 };  // first byte of the stored payload; fields are only appended

struct __attribute__((packed)) settings {
    uint8_t format;
    char label[16];
    uint16_t rate;
    uint16_t enabled;
    uint8_t pressure_sensor;
    uint8_t differential_sensor;
    uint8_t anemometer;
    uint8_t temperature_sensor;
};
_Static_assert(sizeof(struct settings) <= RECORD_LARGEST_PAYLOAD, "settings fit a record");

// Addresses in the storage. The first bytes stay free: they are the ones a failing supply hits first.
enum {
    STORAGE_SETTINGS_A = 0x010,
    STORAGE_SETTINGS_B = 0x040,
    STORAGE_BOOTS_A = 0x070,
    STORAGE_BOOTS_B = 0x080,
    STORAGE_IDENTITY_A = 0x090,
    STORAGE_IDENTITY_B = 0x0A0,
    STORAGE_LINEAR_A = 0x0B0,
    STORAGE_LINEAR_B = 0x0E0,
};

// As new; the label carries the last four hexadecimal digits of the board's identity, so that no two boards share it.
void settings_default(struct settings *settings, uint32_t identity);
bool settings_valid(const struct settings *settings);

// The channels measured: those enabled, and the one of the anemometer that is fitted.
uint16_t settings_channels(const struct settings *settings);

#endif
