// Generated from host/frothline/wire/messages.toml by `python -m frothline.wire.c_header`. Do not edit.
#ifndef FROTHLINE_MESSAGES_H
#define FROTHLINE_MESSAGES_H

#include <stddef.h>
#include <stdint.h>

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "the structs are sent as they lie in memory");

// Macros, because int has 16 bit on the board and an enumeration constant is an int.
#define WIRE_PROTOCOL 1u
#define WIRE_TICK_HZ 2000000ul
#define WIRE_BAUD 500000ul
#define WIRE_LAYOUT_HASH 0x8f7d9b67ul
#define WIRE_HEADER_SIZE 3u
#define WIRE_CHECK_SIZE 4u
#define WIRE_LARGEST_PAYLOAD 249u  // header and fields, without the check
#define WIRE_LARGEST_FRAME 255u  // with check, stuffing and closing zero
#define WIRE_LARGEST_BOARD_PAYLOAD 58u  // of the messages below
#define WIRE_LARGEST_COMMAND_PAYLOAD 27u

enum board_kind {
    BOARD_KIND_ATMEGA328P = 1,
    BOARD_KIND_MODELLED = 2,
    BOARD_KIND_RP2040 = 3,
};

enum reset_cause {
    RESET_CAUSE_POWER_ON = 1,
    RESET_CAUSE_EXTERNAL = 2,
    RESET_CAUSE_BROWN_OUT = 4,
    RESET_CAUSE_WATCHDOG = 8,
};

enum channel_kind {
    CHANNEL_KIND_PRESSURE = 1,
    CHANNEL_KIND_DIFFERENTIAL = 2,
    CHANNEL_KIND_ROTOR = 3,
    CHANNEL_KIND_THERMAL = 4,
    CHANNEL_KIND_TEMPERATURE = 5,
    CHANNEL_KIND_SUPPLY = 6,
    CHANNEL_KIND_AMBIENT = 7,
    CHANNEL_KIND_SCALE = 8,
    CHANNEL_KIND_BUTTON = 9,
};

enum sensor_kind {
    SENSOR_KIND_NONE = 0,
    SENSOR_KIND_MPX5050 = 1,
    SENSOR_KIND_MPX5010 = 2,
    SENSOR_KIND_MPXV7025 = 3,
    SENSOR_KIND_MPXV7007 = 4,
    SENSOR_KIND_MPXV7002 = 5,
    SENSOR_KIND_LINEAR_PRESSURE = 6,
    SENSOR_KIND_PULSE_ROTOR = 16,
    SENSOR_KIND_THERMAL_MODULE = 17,
    SENSOR_KIND_NTC_10K_3950 = 32,
    SENSOR_KIND_NTC_10K_3977 = 33,
    SENSOR_KIND_NTC_10K_3435 = 34,
    SENSOR_KIND_BANDGAP_1V1 = 48,
    SENSOR_KIND_BME280 = 64,
    SENSOR_KIND_BMP280 = 65,
    SENSOR_KIND_HX711_A128 = 80,
    SENSOR_KIND_PUSH_BUTTON = 96,
};

enum count_unit {
    COUNT_UNIT_ADC_SUM = 1,
    COUNT_UNIT_PULSES = 2,
    COUNT_UNIT_BURST = 3,
    COUNT_UNIT_CONVERTER = 4,
    COUNT_UNIT_EVENTS = 5,
};

enum line_flag {
    LINE_FLAG_ROTOR_STOPPED = 1,
    LINE_FLAG_ROTOR_SEEN = 2,
    LINE_FLAG_ADC_OVERRUN = 4,
    LINE_FLAG_BUTTON_DOWN = 8,
    LINE_FLAG_FIRST = 16,
};

enum device_flag {
    DEVICE_FLAG_PRESENT = 1,
    DEVICE_FLAG_FRESH = 2,
    DEVICE_FLAG_BUS_ERROR = 4,
    DEVICE_FLAG_SATURATED = 8,
};

enum mark_source {
    MARK_SOURCE_BUTTON = 1,
    MARK_SOURCE_HOST = 2,
};

enum ack_result {
    ACK_RESULT_OK = 0,
    ACK_RESULT_UNKNOWN_COMMAND = 1,
    ACK_RESULT_BAD_LENGTH = 2,
    ACK_RESULT_BAD_VALUE = 3,
    ACK_RESULT_BUSY = 4,
    ACK_RESULT_STORAGE_FAILED = 5,
};

enum anchor_reason {
    ANCHOR_REASON_OPENED = 1,
    ANCHOR_REASON_PERIODIC = 2,
    ANCHOR_REASON_PORT_BACK = 3,
    ANCHOR_REASON_MARK = 4,
    ANCHOR_REASON_CLOSED = 5,
};

enum port_event {
    PORT_EVENT_LOST = 1,
    PORT_EVENT_BACK = 2,
    PORT_EVENT_BOARD_RESET = 3,
};

enum severity {
    SEVERITY_NOTICE = 1,
    SEVERITY_WARNING = 2,
    SEVERITY_ALARM = 3,
};

enum message_id {
    MSG_DESCRIPTION = 0x01,
    MSG_CHANNEL = 0x02,
    MSG_TRIMMING = 0x03,
    MSG_LINE = 0x04,
    MSG_SLOW = 0x05,
    MSG_AMBIENT = 0x06,
    MSG_SCALE = 0x07,
    MSG_MARK = 0x08,
    MSG_HEALTH = 0x09,
    MSG_ACK = 0x0a,
    MSG_SETTINGS = 0x0b,
    MSG_IDENTITY = 0x0c,
    MSG_ADC = 0x0d,
    MSG_LINEAR_SENSOR = 0x0e,
    MSG_DESCRIBE = 0x40,
    MSG_START = 0x41,
    MSG_STOP = 0x42,
    MSG_SET_RATE = 0x43,
    MSG_WRITE_SETTINGS = 0x44,
    MSG_READ_SETTINGS = 0x45,
    MSG_WRITE_LINEAR_SENSOR = 0x46,
};

// who is speaking: sent at boot, on request, and every 5 s while streaming
struct __attribute__((packed)) msg_description {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t protocol;  // wire.protocol of the sender
    uint32_t layout_hash;  // CRC-32 of the canonical text of this table
    uint8_t firmware_major;
    uint8_t firmware_minor;
    uint8_t firmware_patch;
    uint8_t board_kind;  // enum board_kind
    uint32_t boot_count;  // boots since the storage was new; with the label it tells one boot from the next
    uint8_t reset_cause;  // enum reset_cause
    uint32_t tick;  // tick
    uint32_t tick_hz;  // Hz
    char label[16];  // board label from the settings
    uint8_t streaming;  // 1 while line messages are being sent
    uint16_t rate;  // Hz; line messages per second
    uint16_t enabled;  // bit n set: channel kind n is enabled
    uint16_t present;  // bit n set: channel kind n answers
    uint32_t adc_clock_hz;  // Hz
    uint8_t adc_cycles;  // converter clocks per free-running conversion
    uint32_t rotor_timeout_ticks;  // tick
    uint8_t channels;  // number of channel messages that follow
};
_Static_assert(sizeof(struct msg_description) == 58, "size of msg_description");
_Static_assert(offsetof(struct msg_description, id) == 0, "offset of msg_description.id");
_Static_assert(offsetof(struct msg_description, sequence) == 1, "offset of msg_description.sequence");
_Static_assert(offsetof(struct msg_description, protocol) == 3, "offset of msg_description.protocol");
_Static_assert(offsetof(struct msg_description, layout_hash) == 4, "offset of msg_description.layout_hash");
_Static_assert(offsetof(struct msg_description, firmware_major) == 8, "offset of msg_description.firmware_major");
_Static_assert(offsetof(struct msg_description, firmware_minor) == 9, "offset of msg_description.firmware_minor");
_Static_assert(offsetof(struct msg_description, firmware_patch) == 10, "offset of msg_description.firmware_patch");
_Static_assert(offsetof(struct msg_description, board_kind) == 11, "offset of msg_description.board_kind");
_Static_assert(offsetof(struct msg_description, boot_count) == 12, "offset of msg_description.boot_count");
_Static_assert(offsetof(struct msg_description, reset_cause) == 16, "offset of msg_description.reset_cause");
_Static_assert(offsetof(struct msg_description, tick) == 17, "offset of msg_description.tick");
_Static_assert(offsetof(struct msg_description, tick_hz) == 21, "offset of msg_description.tick_hz");
_Static_assert(offsetof(struct msg_description, label) == 25, "offset of msg_description.label");
_Static_assert(offsetof(struct msg_description, streaming) == 41, "offset of msg_description.streaming");
_Static_assert(offsetof(struct msg_description, rate) == 42, "offset of msg_description.rate");
_Static_assert(offsetof(struct msg_description, enabled) == 44, "offset of msg_description.enabled");
_Static_assert(offsetof(struct msg_description, present) == 46, "offset of msg_description.present");
_Static_assert(offsetof(struct msg_description, adc_clock_hz) == 48, "offset of msg_description.adc_clock_hz");
_Static_assert(offsetof(struct msg_description, adc_cycles) == 52, "offset of msg_description.adc_cycles");
_Static_assert(offsetof(struct msg_description, rotor_timeout_ticks) == 53, "offset of msg_description.rotor_timeout_ticks");
_Static_assert(offsetof(struct msg_description, channels) == 57, "offset of msg_description.channels");

// one channel; the set follows each description
struct __attribute__((packed)) msg_channel {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t kind;  // enum channel_kind
    uint8_t sensor;  // enum sensor_kind
    uint8_t count_unit;  // enum count_unit
    char name[16];
    uint32_t rate_millihertz;  // mHz; messages per second that carry it, times 1000
    char pin[4];  // port pin, as in the pin map
};
_Static_assert(sizeof(struct msg_channel) == 30, "size of msg_channel");
_Static_assert(offsetof(struct msg_channel, id) == 0, "offset of msg_channel.id");
_Static_assert(offsetof(struct msg_channel, sequence) == 1, "offset of msg_channel.sequence");
_Static_assert(offsetof(struct msg_channel, kind) == 3, "offset of msg_channel.kind");
_Static_assert(offsetof(struct msg_channel, sensor) == 4, "offset of msg_channel.sensor");
_Static_assert(offsetof(struct msg_channel, count_unit) == 5, "offset of msg_channel.count_unit");
_Static_assert(offsetof(struct msg_channel, name) == 6, "offset of msg_channel.name");
_Static_assert(offsetof(struct msg_channel, rate_millihertz) == 22, "offset of msg_channel.rate_millihertz");
_Static_assert(offsetof(struct msg_channel, pin) == 26, "offset of msg_channel.pin");

// trimming constants of the ambient module, as read from it; follows the channels when the module is present
struct __attribute__((packed)) msg_trimming {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t address;  // 7 bit bus address
    uint8_t chip_id;
    uint8_t low[26];  // registers 0x88 to 0xA1
    uint8_t high[16];  // registers 0xE1 to 0xF0
};
_Static_assert(sizeof(struct msg_trimming) == 47, "size of msg_trimming");
_Static_assert(offsetof(struct msg_trimming, id) == 0, "offset of msg_trimming.id");
_Static_assert(offsetof(struct msg_trimming, sequence) == 1, "offset of msg_trimming.sequence");
_Static_assert(offsetof(struct msg_trimming, address) == 3, "offset of msg_trimming.address");
_Static_assert(offsetof(struct msg_trimming, chip_id) == 4, "offset of msg_trimming.chip_id");
_Static_assert(offsetof(struct msg_trimming, low) == 5, "offset of msg_trimming.low");
_Static_assert(offsetof(struct msg_trimming, high) == 31, "offset of msg_trimming.high");

// one window of the fast channels, at the set rate
struct __attribute__((packed)) msg_line {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick; end of the window
    uint32_t pressure_sum;  // count
    uint16_t pressure_n;  // conversions in the sum
    uint32_t differential_sum;  // count
    uint16_t differential_n;
    uint32_t thermal_sum;  // count
    uint16_t thermal_n;
    uint32_t pulses;  // rotor edges since boot, modulo 2^32
    uint32_t edge_tick;  // tick; capture of the last of them
    uint8_t flags;  // enum line_flag
};
_Static_assert(sizeof(struct msg_line) == 34, "size of msg_line");
_Static_assert(offsetof(struct msg_line, id) == 0, "offset of msg_line.id");
_Static_assert(offsetof(struct msg_line, sequence) == 1, "offset of msg_line.sequence");
_Static_assert(offsetof(struct msg_line, tick) == 3, "offset of msg_line.tick");
_Static_assert(offsetof(struct msg_line, pressure_sum) == 7, "offset of msg_line.pressure_sum");
_Static_assert(offsetof(struct msg_line, pressure_n) == 11, "offset of msg_line.pressure_n");
_Static_assert(offsetof(struct msg_line, differential_sum) == 13, "offset of msg_line.differential_sum");
_Static_assert(offsetof(struct msg_line, differential_n) == 17, "offset of msg_line.differential_n");
_Static_assert(offsetof(struct msg_line, thermal_sum) == 19, "offset of msg_line.thermal_sum");
_Static_assert(offsetof(struct msg_line, thermal_n) == 23, "offset of msg_line.thermal_n");
_Static_assert(offsetof(struct msg_line, pulses) == 25, "offset of msg_line.pulses");
_Static_assert(offsetof(struct msg_line, edge_tick) == 29, "offset of msg_line.edge_tick");
_Static_assert(offsetof(struct msg_line, flags) == 33, "offset of msg_line.flags");

// line temperature and supply, 5 per second
struct __attribute__((packed)) msg_slow {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick
    uint32_t temperature_sum;  // count
    uint16_t temperature_n;
    uint32_t bandgap_sum;  // count
    uint16_t bandgap_n;
};
_Static_assert(sizeof(struct msg_slow) == 19, "size of msg_slow");
_Static_assert(offsetof(struct msg_slow, id) == 0, "offset of msg_slow.id");
_Static_assert(offsetof(struct msg_slow, sequence) == 1, "offset of msg_slow.sequence");
_Static_assert(offsetof(struct msg_slow, tick) == 3, "offset of msg_slow.tick");
_Static_assert(offsetof(struct msg_slow, temperature_sum) == 7, "offset of msg_slow.temperature_sum");
_Static_assert(offsetof(struct msg_slow, temperature_n) == 11, "offset of msg_slow.temperature_n");
_Static_assert(offsetof(struct msg_slow, bandgap_sum) == 13, "offset of msg_slow.bandgap_sum");
_Static_assert(offsetof(struct msg_slow, bandgap_n) == 17, "offset of msg_slow.bandgap_n");

// raw burst of the ambient module, 1 per second
struct __attribute__((packed)) msg_ambient {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick
    uint8_t burst[8];  // registers 0xF7 to 0xFE
    uint8_t flags;  // enum device_flag
};
_Static_assert(sizeof(struct msg_ambient) == 16, "size of msg_ambient");
_Static_assert(offsetof(struct msg_ambient, id) == 0, "offset of msg_ambient.id");
_Static_assert(offsetof(struct msg_ambient, sequence) == 1, "offset of msg_ambient.sequence");
_Static_assert(offsetof(struct msg_ambient, tick) == 3, "offset of msg_ambient.tick");
_Static_assert(offsetof(struct msg_ambient, burst) == 7, "offset of msg_ambient.burst");
_Static_assert(offsetof(struct msg_ambient, flags) == 15, "offset of msg_ambient.flags");

// load cell converter, as fast as it converts
struct __attribute__((packed)) msg_scale {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick
    int32_t counts;  // count
    uint8_t flags;  // enum device_flag
};
_Static_assert(sizeof(struct msg_scale) == 12, "size of msg_scale");
_Static_assert(offsetof(struct msg_scale, id) == 0, "offset of msg_scale.id");
_Static_assert(offsetof(struct msg_scale, sequence) == 1, "offset of msg_scale.sequence");
_Static_assert(offsetof(struct msg_scale, tick) == 3, "offset of msg_scale.tick");
_Static_assert(offsetof(struct msg_scale, counts) == 7, "offset of msg_scale.counts");
_Static_assert(offsetof(struct msg_scale, flags) == 11, "offset of msg_scale.flags");

// the push button was pressed
struct __attribute__((packed)) msg_mark {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick
    uint16_t number;  // counts from 1 since boot
    uint8_t source;  // enum mark_source
};
_Static_assert(sizeof(struct msg_mark) == 10, "size of msg_mark");
_Static_assert(offsetof(struct msg_mark, id) == 0, "offset of msg_mark.id");
_Static_assert(offsetof(struct msg_mark, sequence) == 1, "offset of msg_mark.sequence");
_Static_assert(offsetof(struct msg_mark, tick) == 3, "offset of msg_mark.tick");
_Static_assert(offsetof(struct msg_mark, number) == 7, "offset of msg_mark.number");
_Static_assert(offsetof(struct msg_mark, source) == 9, "offset of msg_mark.source");

// what was lost and how near the limits are, 1 per second; counters since boot, modulo their width
struct __attribute__((packed)) msg_health {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t tick;  // tick
    uint32_t frames_dropped;  // whole frames that found the ring full
    uint16_t adc_overruns;
    uint16_t capture_overruns;
    uint16_t bus_errors;
    uint16_t bus_recoveries;
    uint16_t receive_errors;  // UART frame and overrun errors, and damaged command frames
    uint16_t ring_high_water;  // byte; most bytes ever waiting to be sent
    uint16_t stack_free;  // byte; least free stack seen
    uint32_t loop_worst_ticks;  // tick; longest turn of the main loop
};
_Static_assert(sizeof(struct msg_health) == 29, "size of msg_health");
_Static_assert(offsetof(struct msg_health, id) == 0, "offset of msg_health.id");
_Static_assert(offsetof(struct msg_health, sequence) == 1, "offset of msg_health.sequence");
_Static_assert(offsetof(struct msg_health, tick) == 3, "offset of msg_health.tick");
_Static_assert(offsetof(struct msg_health, frames_dropped) == 7, "offset of msg_health.frames_dropped");
_Static_assert(offsetof(struct msg_health, adc_overruns) == 11, "offset of msg_health.adc_overruns");
_Static_assert(offsetof(struct msg_health, capture_overruns) == 13, "offset of msg_health.capture_overruns");
_Static_assert(offsetof(struct msg_health, bus_errors) == 15, "offset of msg_health.bus_errors");
_Static_assert(offsetof(struct msg_health, bus_recoveries) == 17, "offset of msg_health.bus_recoveries");
_Static_assert(offsetof(struct msg_health, receive_errors) == 19, "offset of msg_health.receive_errors");
_Static_assert(offsetof(struct msg_health, ring_high_water) == 21, "offset of msg_health.ring_high_water");
_Static_assert(offsetof(struct msg_health, stack_free) == 23, "offset of msg_health.stack_free");
_Static_assert(offsetof(struct msg_health, loop_worst_ticks) == 25, "offset of msg_health.loop_worst_ticks");

// answer to a command
struct __attribute__((packed)) msg_ack {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t command;  // id of the command
    uint16_t command_sequence;
    uint8_t result;  // enum ack_result
};
_Static_assert(sizeof(struct msg_ack) == 7, "size of msg_ack");
_Static_assert(offsetof(struct msg_ack, id) == 0, "offset of msg_ack.id");
_Static_assert(offsetof(struct msg_ack, sequence) == 1, "offset of msg_ack.sequence");
_Static_assert(offsetof(struct msg_ack, command) == 3, "offset of msg_ack.command");
_Static_assert(offsetof(struct msg_ack, command_sequence) == 4, "offset of msg_ack.command_sequence");
_Static_assert(offsetof(struct msg_ack, result) == 6, "offset of msg_ack.result");

// what the board keeps through power cuts; sent after read_settings and write_settings
struct __attribute__((packed)) msg_settings {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    char label[16];
    uint16_t rate;  // Hz
    uint16_t enabled;  // bit n: channel kind n
    uint8_t pressure_sensor;  // enum sensor_kind
    uint8_t differential_sensor;  // enum sensor_kind
    uint8_t anemometer;  // enum sensor_kind; pulse_rotor or thermal_module
    uint8_t temperature_sensor;  // enum sensor_kind
    uint16_t generation;  // grows by one with each write, circular
};
_Static_assert(sizeof(struct msg_settings) == 29, "size of msg_settings");
_Static_assert(offsetof(struct msg_settings, id) == 0, "offset of msg_settings.id");
_Static_assert(offsetof(struct msg_settings, sequence) == 1, "offset of msg_settings.sequence");
_Static_assert(offsetof(struct msg_settings, label) == 3, "offset of msg_settings.label");
_Static_assert(offsetof(struct msg_settings, rate) == 19, "offset of msg_settings.rate");
_Static_assert(offsetof(struct msg_settings, enabled) == 21, "offset of msg_settings.enabled");
_Static_assert(offsetof(struct msg_settings, pressure_sensor) == 23, "offset of msg_settings.pressure_sensor");
_Static_assert(offsetof(struct msg_settings, differential_sensor) == 24, "offset of msg_settings.differential_sensor");
_Static_assert(offsetof(struct msg_settings, anemometer) == 25, "offset of msg_settings.anemometer");
_Static_assert(offsetof(struct msg_settings, temperature_sensor) == 26, "offset of msg_settings.temperature_sensor");
_Static_assert(offsetof(struct msg_settings, generation) == 27, "offset of msg_settings.generation");

// a number that tells one board from every other; sent before each description
struct __attribute__((packed)) msg_identity {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t number;  // drawn at the first boot and kept; 0: none could be stored
};
_Static_assert(sizeof(struct msg_identity) == 7, "size of msg_identity");
_Static_assert(offsetof(struct msg_identity, id) == 0, "offset of msg_identity.id");
_Static_assert(offsetof(struct msg_identity, sequence) == 1, "offset of msg_identity.sequence");
_Static_assert(offsetof(struct msg_identity, number) == 3, "offset of msg_identity.number");

// the analog converter; follows the channels. Boards older than it have 1024 levels
struct __attribute__((packed)) msg_adc {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint32_t levels;  // full scale: mean code / levels is the share of the supply
    uint16_t accuracy_centicounts;  // limit of all static errors, in hundredths of a count
};
_Static_assert(sizeof(struct msg_adc) == 9, "size of msg_adc");
_Static_assert(offsetof(struct msg_adc, id) == 0, "offset of msg_adc.id");
_Static_assert(offsetof(struct msg_adc, sequence) == 1, "offset of msg_adc.sequence");
_Static_assert(offsetof(struct msg_adc, levels) == 3, "offset of msg_adc.levels");
_Static_assert(offsetof(struct msg_adc, accuracy_centicounts) == 7, "offset of msg_adc.accuracy_centicounts");

// line of a linear_pressure sensor; one for each channel that has one, after the channels
struct __attribute__((packed)) msg_linear_sensor {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t kind;  // enum channel_kind; pressure or differential
    int32_t low_pascal;  // Pa; pressure at low_millivolt
    int32_t high_pascal;  // Pa; pressure at high_millivolt; both 0: not set yet
    uint16_t low_millivolt;  // mV; with a supply of 5.000 V, to which the output is proportional
    uint16_t high_millivolt;  // mV
    uint16_t accuracy_per_myriad;  // stated limit of all errors, in 1/10000 of the span
};
_Static_assert(sizeof(struct msg_linear_sensor) == 18, "size of msg_linear_sensor");
_Static_assert(offsetof(struct msg_linear_sensor, id) == 0, "offset of msg_linear_sensor.id");
_Static_assert(offsetof(struct msg_linear_sensor, sequence) == 1, "offset of msg_linear_sensor.sequence");
_Static_assert(offsetof(struct msg_linear_sensor, kind) == 3, "offset of msg_linear_sensor.kind");
_Static_assert(offsetof(struct msg_linear_sensor, low_pascal) == 4, "offset of msg_linear_sensor.low_pascal");
_Static_assert(offsetof(struct msg_linear_sensor, high_pascal) == 8, "offset of msg_linear_sensor.high_pascal");
_Static_assert(offsetof(struct msg_linear_sensor, low_millivolt) == 12, "offset of msg_linear_sensor.low_millivolt");
_Static_assert(offsetof(struct msg_linear_sensor, high_millivolt) == 14, "offset of msg_linear_sensor.high_millivolt");
_Static_assert(offsetof(struct msg_linear_sensor, accuracy_per_myriad) == 16, "offset of msg_linear_sensor.accuracy_per_myriad");

// send identity, description, channels, adc, linear sensors, trimming
struct __attribute__((packed)) msg_describe {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
};
_Static_assert(sizeof(struct msg_describe) == 3, "size of msg_describe");
_Static_assert(offsetof(struct msg_describe, id) == 0, "offset of msg_describe.id");
_Static_assert(offsetof(struct msg_describe, sequence) == 1, "offset of msg_describe.sequence");

// begin sending line, slow, ambient, scale and health messages
struct __attribute__((packed)) msg_start {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
};
_Static_assert(sizeof(struct msg_start) == 3, "size of msg_start");
_Static_assert(offsetof(struct msg_start, id) == 0, "offset of msg_start.id");
_Static_assert(offsetof(struct msg_start, sequence) == 1, "offset of msg_start.sequence");

// stop sending them; description and acks still go out
struct __attribute__((packed)) msg_stop {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
};
_Static_assert(sizeof(struct msg_stop) == 3, "size of msg_stop");
_Static_assert(offsetof(struct msg_stop, id) == 0, "offset of msg_stop.id");
_Static_assert(offsetof(struct msg_stop, sequence) == 1, "offset of msg_stop.sequence");

// line messages per second until the next boot; write_settings keeps it
struct __attribute__((packed)) msg_set_rate {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint16_t rate;  // Hz; 10 to 500
};
_Static_assert(sizeof(struct msg_set_rate) == 5, "size of msg_set_rate");
_Static_assert(offsetof(struct msg_set_rate, id) == 0, "offset of msg_set_rate.id");
_Static_assert(offsetof(struct msg_set_rate, sequence) == 1, "offset of msg_set_rate.sequence");
_Static_assert(offsetof(struct msg_set_rate, rate) == 3, "offset of msg_set_rate.rate");

// keep these through power cuts
struct __attribute__((packed)) msg_write_settings {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    char label[16];
    uint16_t rate;  // Hz
    uint16_t enabled;
    uint8_t pressure_sensor;  // enum sensor_kind
    uint8_t differential_sensor;  // enum sensor_kind
    uint8_t anemometer;  // enum sensor_kind
    uint8_t temperature_sensor;  // enum sensor_kind
};
_Static_assert(sizeof(struct msg_write_settings) == 27, "size of msg_write_settings");
_Static_assert(offsetof(struct msg_write_settings, id) == 0, "offset of msg_write_settings.id");
_Static_assert(offsetof(struct msg_write_settings, sequence) == 1, "offset of msg_write_settings.sequence");
_Static_assert(offsetof(struct msg_write_settings, label) == 3, "offset of msg_write_settings.label");
_Static_assert(offsetof(struct msg_write_settings, rate) == 19, "offset of msg_write_settings.rate");
_Static_assert(offsetof(struct msg_write_settings, enabled) == 21, "offset of msg_write_settings.enabled");
_Static_assert(offsetof(struct msg_write_settings, pressure_sensor) == 23, "offset of msg_write_settings.pressure_sensor");
_Static_assert(offsetof(struct msg_write_settings, differential_sensor) == 24, "offset of msg_write_settings.differential_sensor");
_Static_assert(offsetof(struct msg_write_settings, anemometer) == 25, "offset of msg_write_settings.anemometer");
_Static_assert(offsetof(struct msg_write_settings, temperature_sensor) == 26, "offset of msg_write_settings.temperature_sensor");

// send the settings
struct __attribute__((packed)) msg_read_settings {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
};
_Static_assert(sizeof(struct msg_read_settings) == 3, "size of msg_read_settings");
_Static_assert(offsetof(struct msg_read_settings, id) == 0, "offset of msg_read_settings.id");
_Static_assert(offsetof(struct msg_read_settings, sequence) == 1, "offset of msg_read_settings.sequence");

// keep the line of a linear_pressure sensor through power cuts; fields as in linear_sensor
struct __attribute__((packed)) msg_write_linear_sensor {
    uint8_t id;  // message id, from the tables below
    uint16_t sequence;  // counts every frame its sender made, also those it had to drop
    uint8_t kind;  // enum channel_kind
    int32_t low_pascal;  // Pa
    int32_t high_pascal;  // Pa
    uint16_t low_millivolt;  // mV
    uint16_t high_millivolt;  // mV
    uint16_t accuracy_per_myriad;
};
_Static_assert(sizeof(struct msg_write_linear_sensor) == 18, "size of msg_write_linear_sensor");
_Static_assert(offsetof(struct msg_write_linear_sensor, id) == 0, "offset of msg_write_linear_sensor.id");
_Static_assert(offsetof(struct msg_write_linear_sensor, sequence) == 1, "offset of msg_write_linear_sensor.sequence");
_Static_assert(offsetof(struct msg_write_linear_sensor, kind) == 3, "offset of msg_write_linear_sensor.kind");
_Static_assert(offsetof(struct msg_write_linear_sensor, low_pascal) == 4, "offset of msg_write_linear_sensor.low_pascal");
_Static_assert(offsetof(struct msg_write_linear_sensor, high_pascal) == 8, "offset of msg_write_linear_sensor.high_pascal");
_Static_assert(offsetof(struct msg_write_linear_sensor, low_millivolt) == 12, "offset of msg_write_linear_sensor.low_millivolt");
_Static_assert(offsetof(struct msg_write_linear_sensor, high_millivolt) == 14, "offset of msg_write_linear_sensor.high_millivolt");
_Static_assert(offsetof(struct msg_write_linear_sensor, accuracy_per_myriad) == 16, "offset of msg_write_linear_sensor.accuracy_per_myriad");

#endif
