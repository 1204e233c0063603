#include "core/describe.h"

#include <string.h>

#include "core/board.h"
#include "core/messages.h"
#include "core/outbox.h"
#include "core/rotor.h"
#include "core/sampler.h"
#include "core/state.h"

enum {
    KINDS = CHANNEL_KIND_BUTTON,
    STEP_NONE = 0,
    STEP_IDENTITY = 1,
    STEP_DESCRIPTION = 2,
    STEP_ADC = 3 + KINDS,
    STEP_LINEAR_PRESSURE,
    STEP_LINEAR_DIFFERENTIAL,
    STEP_TRIMMING,
};

static uint8_t step;

static const char names[KINDS][13] = {
    "pressure", "differential", "rotor", "thermal", "temperature", "supply", "ambient", "scale", "button",
};

static uint8_t count_bits(uint16_t bits)
{
    uint8_t count = 0;
    for (; bits; bits &= bits - 1) {
        count++;
    }
    return count;
}

static void send_identity(void)
{
    struct msg_identity *message = outbox_message(MSG_IDENTITY, sizeof *message);
    message->number = rig.identity;
    outbox_send();
}

static void send_description(uint16_t channels)
{
    struct msg_description *message = outbox_message(MSG_DESCRIPTION, sizeof *message);
    message->protocol = WIRE_PROTOCOL;
    message->layout_hash = WIRE_LAYOUT_HASH;
    message->firmware_major = FIRMWARE_MAJOR;
    message->firmware_minor = FIRMWARE_MINOR;
    message->firmware_patch = FIRMWARE_PATCH;
    message->board_kind = board_kind;
    message->boot_count = rig.boot_count;
    message->reset_cause = board_reset_cause();
    message->tick = board_tick();
    message->tick_hz = WIRE_TICK_HZ;
    memcpy(message->label, rig.settings.label, sizeof message->label);
    message->streaming = rig.streaming;
    message->rate = rig.rate;
    message->enabled = channels;
    message->present = rig.present;
    message->adc_clock_hz = board_adc_clock_hz;
    message->adc_cycles = board_adc_cycles;
    message->rotor_timeout_ticks = ROTOR_TIMEOUT_TICKS;
    message->channels = count_bits(channels);
    outbox_send();
}

static void send_channel(uint8_t kind)
{
    const struct settings *settings = &rig.settings;
    struct msg_channel *message = outbox_message(MSG_CHANNEL, sizeof *message);
    uint8_t sensor = SENSOR_KIND_NONE;
    uint8_t unit = COUNT_UNIT_ADC_SUM;
    uint32_t rate = rig.rate * 1000ul;
    switch (kind) {
    case CHANNEL_KIND_PRESSURE:
        sensor = settings->pressure_sensor;
        break;
    case CHANNEL_KIND_DIFFERENTIAL:
        sensor = settings->differential_sensor;
        break;
    case CHANNEL_KIND_ROTOR:
        sensor = SENSOR_KIND_PULSE_ROTOR;
        unit = COUNT_UNIT_PULSES;
        break;
    case CHANNEL_KIND_THERMAL:
        sensor = SENSOR_KIND_THERMAL_MODULE;
        break;
    case CHANNEL_KIND_TEMPERATURE:
        sensor = settings->temperature_sensor;
        rate = SAMPLER_SLOW_RATE * 1000ul;
        break;
    case CHANNEL_KIND_SUPPLY:
        sensor = SENSOR_KIND_BANDGAP_1V1;
        rate = SAMPLER_SLOW_RATE * 1000ul;
        break;
    case CHANNEL_KIND_AMBIENT:
        sensor = rig.ambient_sensor;
        unit = COUNT_UNIT_BURST;
        rate = 1000;
        break;
    case CHANNEL_KIND_SCALE:
        sensor = SENSOR_KIND_HX711_A128;
        unit = COUNT_UNIT_CONVERTER;
        rate = 10000;  // as the module is strapped by default; what comes is as fast as it converts
        break;
    default:
        sensor = SENSOR_KIND_PUSH_BUTTON;
        unit = COUNT_UNIT_EVENTS;
        rate = 0;
        break;
    }
    message->kind = kind;
    message->sensor = sensor;
    message->count_unit = unit;
    message->rate_millihertz = rate;
    memcpy(message->name, names[kind - 1], sizeof names[0]);
    board_pin(kind, message->pin);
    outbox_send();
}

static void send_adc(void)
{
    struct msg_adc *message = outbox_message(MSG_ADC, sizeof *message);
    message->levels = board_adc_levels();
    message->accuracy_centicounts = board_adc_accuracy();
    outbox_send();
}

static bool is_linear(uint8_t kind)
{
    const struct settings *settings = &rig.settings;
    uint8_t sensor = kind == CHANNEL_KIND_PRESSURE ? settings->pressure_sensor : settings->differential_sensor;
    return sensor == SENSOR_KIND_LINEAR_PRESSURE && (rig.channels & CHANNEL_BIT(kind));
}

static void send_linear(uint8_t kind)
{
    const struct linear_line *line = linear_of(&rig.linear, kind);
    struct msg_linear_sensor *message = outbox_message(MSG_LINEAR_SENSOR, sizeof *message);
    message->kind = kind;
    message->low_pascal = line->low_pascal;
    message->high_pascal = line->high_pascal;
    message->low_millivolt = line->low_millivolt;
    message->high_millivolt = line->high_millivolt;
    message->accuracy_per_myriad = line->accuracy_per_myriad;
    outbox_send();
}

bool describe_turn(void)
{
    if (rig.describe_request) {
        rig.describe_request = false;
        step = STEP_IDENTITY;
    }
    if (step == STEP_NONE || board_send_room() < OUTBOX_RESERVE) {
        return false;
    }
    uint16_t channels = rig.channels;
    if (step == STEP_IDENTITY) {
        send_identity();
        step++;
        return false;
    }
    if (step == STEP_DESCRIPTION) {
        send_description(channels);
        step++;
        return false;
    }
    while (step < STEP_ADC) {
        uint8_t kind = (uint8_t)(step++ - STEP_DESCRIPTION);
        if (channels & CHANNEL_BIT(kind)) {
            send_channel(kind);
            return false;
        }
    }
    if (step == STEP_ADC) {
        send_adc();
        step++;
        return false;
    }
    while (step < STEP_TRIMMING) {
        uint8_t kind = step++ == STEP_LINEAR_PRESSURE ? CHANNEL_KIND_PRESSURE : CHANNEL_KIND_DIFFERENTIAL;
        if (is_linear(kind)) {
            send_linear(kind);
            return false;
        }
    }
    step = STEP_NONE;
    return rig.present & CHANNEL_BIT(CHANNEL_KIND_AMBIENT);
}
