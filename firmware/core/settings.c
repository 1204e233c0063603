#include "core/settings.h"

#include <string.h>

#include "core/board.h"
#include "core/sampler.h"

enum {
    ALL_CHANNELS = CHANNEL_BIT(CHANNEL_KIND_PRESSURE) | CHANNEL_BIT(CHANNEL_KIND_DIFFERENTIAL)
                 | CHANNEL_BIT(CHANNEL_KIND_ROTOR) | CHANNEL_BIT(CHANNEL_KIND_THERMAL)
                 | CHANNEL_BIT(CHANNEL_KIND_TEMPERATURE) | CHANNEL_BIT(CHANNEL_KIND_SUPPLY)
                 | CHANNEL_BIT(CHANNEL_KIND_AMBIENT) | CHANNEL_BIT(CHANNEL_KIND_SCALE)
                 | CHANNEL_BIT(CHANNEL_KIND_BUTTON),
    OPTIONAL_CHANNELS = CHANNEL_BIT(CHANNEL_KIND_DIFFERENTIAL) | CHANNEL_BIT(CHANNEL_KIND_THERMAL),
};

static char hexadecimal(uint8_t digit)
{
    return (char)(digit < 10 ? '0' + digit : 'a' + digit - 10);
}

void settings_default(struct settings *settings, uint32_t identity)
{
    memset(settings, 0, sizeof *settings);
    settings->format = SETTINGS_FORMAT;
    memcpy(settings->label, "frothline ", 10);
    for (uint8_t k = 0; k < 4; k++) {
        settings->label[10 + k] = hexadecimal((uint8_t)(identity >> (12 - 4 * k)) & 15);
    }
    settings->rate = 100;
    settings->enabled = ALL_CHANNELS & ~OPTIONAL_CHANNELS & board_channels();
    settings->pressure_sensor = board_pressure_sensor();
    settings->differential_sensor = SENSOR_KIND_NONE;
    settings->anemometer = SENSOR_KIND_PULSE_ROTOR;
    settings->temperature_sensor = SENSOR_KIND_NTC_10K_3950;
}

static bool pressure_kind(uint8_t sensor)
{
    return sensor <= SENSOR_KIND_LINEAR_PRESSURE;
}

bool settings_valid(const struct settings *settings)
{
    uint8_t ntc = settings->temperature_sensor;
    uint8_t anemometer = settings->anemometer;
    return settings->format == SETTINGS_FORMAT && settings->rate >= SAMPLER_RATE_LEAST
        && settings->rate <= SAMPLER_RATE_MOST && (settings->enabled & (uint16_t)~(ALL_CHANNELS & board_channels())) == 0
        && pressure_kind(settings->pressure_sensor) && pressure_kind(settings->differential_sensor)
        && (anemometer == SENSOR_KIND_NONE || anemometer == SENSOR_KIND_PULSE_ROTOR
            || anemometer == SENSOR_KIND_THERMAL_MODULE)
        && (ntc == SENSOR_KIND_NONE || (ntc >= SENSOR_KIND_NTC_10K_3950 && ntc <= SENSOR_KIND_NTC_10K_3435));
}

uint16_t settings_channels(const struct settings *settings)
{
    uint16_t channels = settings->enabled;
    if (settings->anemometer == SENSOR_KIND_PULSE_ROTOR) {
        channels |= CHANNEL_BIT(CHANNEL_KIND_ROTOR);
    }
    if (settings->anemometer == SENSOR_KIND_THERMAL_MODULE) {
        channels |= CHANNEL_BIT(CHANNEL_KIND_THERMAL);
    }
    return channels;
}
