#include "native/fake.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/board.h"
#include "core/messages.h"
#include "core/ring.h"
#include "core/stream.h"

struct fake fake;

enum { CONVERSION_TICKS = 208, SCALE_EVERY = 200000, BUS_TICKS = 2000, BUS_TIMEOUT_TICKS = 16000 };

static uint8_t send_bytes[256];
static struct ring sending = {.bytes = send_bytes, .mask = 255};
static uint8_t receive_bytes[128];
struct ring fake_receiving = {.bytes = receive_bytes, .mask = 127};
static uint16_t high_water;
static uint32_t line_credit;
static uint16_t bus_errors;

const uint8_t board_kind = BOARD_KIND_ATMEGA328P;
const uint32_t board_adc_clock_hz = 125000;
const uint8_t board_adc_cycles = 13;

void fake_reset(void)
{
    memset(&fake, 0, sizeof fake);
    memset(fake.storage, 0xFF, sizeof fake.storage);
    fake.power_fails_at = -1;
    fake.bytes_per_second = 50000;
    fake.ambient_address = 0x76;
    fake.adc_levels = 1024;
}

static _Noreturn void fail(const char *what)
{
    fprintf(stderr, "the core broke a rule of core/board.h: %s\n", what);
    abort();
}

uint32_t board_adc_levels(void)
{
    return fake.adc_levels;
}

uint16_t board_adc_accuracy(void)
{
    return 200;
}

uint16_t board_channels(void)
{
    return 0xFFFF;
}

uint8_t board_pressure_sensor(void)
{
    return SENSOR_KIND_MPX5050;
}

void board_begin(void)
{
}

uint32_t board_tick(void)
{
    return fake.tick;
}

uint8_t board_lock(void)
{
    fake.locked++;
    return (uint8_t)fake.locked;
}

void board_unlock(uint8_t was)
{
    if (was != fake.locked) {
        fail("locks are not undone in order");
    }
    fake.locked--;
}

static void edges_until(uint32_t tick)
{
    while (fake.rotor_every && (int32_t)(tick - fake.next_edge) >= 0) {
        stream_edge(fake.next_edge);
        fake.next_edge += fake.rotor_every;
    }
}

void board_rest(void)
{
    if (fake.locked) {
        fail("sleeping with interrupts off");
    }
    fake.tick += CONVERSION_TICKS;
    edges_until(fake.tick);
    if (fake.deaf_conversions) {
        fake.deaf_conversions--;
    } else {
        fake.input = stream_conversion(fake.codes[fake.input], fake.tick);
        if (fake.input >= FAKE_INPUTS) {
            fail("no such input");
        }
    }
    line_credit += (uint32_t)fake.bytes_per_second * CONVERSION_TICKS;
    uint8_t byte;
    while (line_credit >= WIRE_TICK_HZ && ring_take(&sending, &byte)) {
        line_credit -= (uint32_t)WIRE_TICK_HZ;
        if (fake.sent_length == FAKE_SENT) {
            fail("the test lets too much pile up");
        }
        fake.sent[fake.sent_length++] = byte;
    }
    if (ring_used(&sending) == 0) {
        line_credit = 0;
    }
}

void board_feed_watchdog(void)
{
    fake.watchdog_fed++;
}

uint8_t board_reset_cause(void)
{
    return RESET_CAUSE_POWER_ON;
}

uint32_t board_leftover(void)
{
    return fake.leftover;
}

uint16_t board_stack_free(void)
{
    return 500;
}

void board_led(bool lit)
{
    (void)lit;
}

bool board_button_down(void)
{
    return fake.button;
}

bool board_send(const uint8_t *bytes, uint8_t length)
{
    if (!ring_put_whole(&sending, bytes, length)) {
        return false;
    }
    uint8_t used = ring_used(&sending);
    high_water = used > high_water ? used : high_water;
    return true;
}

uint8_t board_send_room(void)
{
    return ring_room(&sending);
}

void board_take_received(void)
{
}

bool board_receive(uint8_t *byte)
{
    return ring_take(&fake_receiving, byte);
}

// --- bus ---

static enum bus_state bus = BUS_IDLE;
static uint32_t bus_begun;
static struct {
    uint8_t address;
    const uint8_t *out;
    uint8_t out_length;
    uint8_t *in;
    uint8_t in_length;
} transfer;

bool board_bus_begin(uint8_t address, const uint8_t *out, uint8_t out_length, uint8_t *in, uint8_t in_length)
{
    if (bus != BUS_IDLE) {
        return false;
    }
    bus = BUS_BUSY;
    bus_begun = fake.tick;
    transfer.address = address;
    transfer.out = out;
    transfer.out_length = out_length;
    transfer.in = in;
    transfer.in_length = in_length;
    return true;
}

static enum bus_state carry_out(void)
{
    if (!fake.ambient || transfer.address != fake.ambient_address) {
        return BUS_NO_ANSWER;
    }
    uint8_t which = transfer.out[0];
    for (uint8_t i = 1; i < transfer.out_length; i++) {
        fake.registers[which++] = transfer.out[i];
    }
    for (uint8_t i = 0; i < transfer.in_length; i++) {
        transfer.in[i] = fake.registers[which++];
    }
    return BUS_DONE;
}

enum bus_state board_bus_poll(void)
{
    uint32_t age = fake.tick - bus_begun;
    enum bus_state result = bus;
    if (bus == BUS_BUSY && fake.bus_hangs) {
        if (age < BUS_TIMEOUT_TICKS) {
            return BUS_BUSY;
        }
        bus_errors++;
        result = BUS_FAILED;
    } else if (bus == BUS_BUSY) {
        if (age < BUS_TICKS) {
            return BUS_BUSY;
        }
        result = carry_out();
    }
    bus = BUS_IDLE;
    return result;
}

// --- load cell converter ---

static uint32_t scale_converted;
static uint8_t scale_clocks;

bool board_scale_ready(void)
{
    switch (fake.scale) {
    case SCALE_CONVERTS:
        return fake.tick - scale_converted >= SCALE_EVERY;
    case SCALE_HELD_LOW:
        return true;
    case SCALE_ABSENT:
        return false;
    }
    return false;
}

bool board_scale_clock(void)
{
    if (fake.scale != SCALE_CONVERTS) {
        return fake.scale == SCALE_ABSENT;
    }
    uint8_t clock = scale_clocks++;
    if (clock == 24) {
        scale_clocks = 0;
        scale_converted = fake.tick;
        return true;
    }
    return (uint32_t)fake.scale_counts >> (23 - clock) & 1;
}

// --- storage: every write can be the one in which the power fails ---

bool board_storage_ready(void)
{
    return true;
}

uint8_t board_storage_read(uint16_t address)
{
    return fake.storage[address];
}

void board_storage_write(uint16_t address, uint8_t byte)
{
    long number = fake.writes++;
    if (fake.storage_dead || (fake.power_fails_at >= 0 && number > fake.power_fails_at)) {
        return;
    }
    if (number == fake.power_fails_at) {
        if (fake.torn_byte >= 0) {
            fake.storage[address] = (uint8_t)fake.torn_byte;
        }
        return;
    }
    fake.storage[address] = byte;
}

struct board_counts board_counts(void)
{
    return (struct board_counts){.bus_errors = bus_errors, .bus_recoveries = bus_errors, .ring_high_water = high_water};
}

void board_pin(uint8_t channel_kind, char name[4])
{
    memset(name, 0, 4);
    name[0] = 'P';
    name[1] = (char)('0' + channel_kind);
}
