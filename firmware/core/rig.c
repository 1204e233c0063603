#include "core/rig.h"

#include <string.h>

#include "drivers/bme280.h"
#include "drivers/hx711.h"
#include "core/board.h"
#include "core/button.h"
#include "core/command.h"
#include "core/describe.h"
#include "core/identity.h"
#include "core/messages.h"
#include "core/outbox.h"
#include "core/rotor.h"
#include "core/sampler.h"

struct rig_state rig;

// Shared with the board's interrupts, which call rig_conversion and rig_edge: the main loop touches these two only
// between board_lock and board_unlock, but for sampler_take_line, whose ring of windows needs no lock.
static struct sampler sampler;
static struct rotor rotor;

static struct bme280 ambient;
static struct hx711 scale;
static struct button button;
static uint16_t marks;
static uint16_t windows_lost;     // as far as they have been numbered
static uint16_t conversions;      // when the watchdog was last fed
static uint8_t next_chore;
static uint32_t next_description;
static bool described;            // the first description waits until the ambient module has been looked for
static uint32_t next_health;
static uint32_t worst_turn;

#define DESCRIBE_EVERY (5000ul * TICKS_PER_MS)
#define HEALTH_EVERY (1000ul * TICKS_PER_MS)
#define FIRST_DESCRIPTION_WITHIN (100ul * TICKS_PER_MS)

// Set by the conversion interrupt when a turn of the main loop is worth while, cleared by the main loop.
static volatile bool turn_due;
enum { TURN_EVERY = 8 };  // conversions, 0.83 ms; 41 received bytes

uint8_t rig_conversion(uint16_t value, uint32_t tick)
{
    identity_conversion(value);
    uint8_t closed = sampler.closed_head;
    uint8_t input = sampler_conversion(&sampler, &rotor, value, tick);
    if (sampler.closed_head != closed || sampler.conversions % TURN_EVERY == 0) {
        turn_due = true;
    }
    return input;
}

void rig_edge(uint32_t tick)
{
    rotor_edge(&rotor, tick);
}

const struct bme280 *rig_ambient(void)
{
    return &ambient;
}

static bool enabled(uint8_t kind)
{
    return rig.channels & CHANNEL_BIT(kind);
}

// What can be seen to answer, and what cannot be asked and is taken to be there when it is enabled.
static void update_present(void)
{
    uint16_t seen = CHANNEL_BIT(CHANNEL_KIND_AMBIENT) | CHANNEL_BIT(CHANNEL_KIND_SCALE);
    uint16_t present = rig.channels & ~seen;
    if (ambient.present && enabled(CHANNEL_KIND_AMBIENT)) {
        present |= CHANNEL_BIT(CHANNEL_KIND_AMBIENT);
    }
    if (scale.present && enabled(CHANNEL_KIND_SCALE)) {
        present |= CHANNEL_BIT(CHANNEL_KIND_SCALE);
    }
    uint8_t chip = ambient.present ? ambient.chip_id : 0;
    if (present != rig.present || chip != rig.ambient_chip) {
        rig.present = present;
        rig.ambient_chip = chip;
        if (described) {
            describe_request();
        }
    }
}

void rig_start(void)
{
    if (rig.streaming) {
        return;
    }
    rig.streaming = true;
    rig_set_rate(rig.rate);
    next_health = board_tick() + HEALTH_EVERY;
}

void rig_stop(void)
{
    uint8_t was = board_lock();
    sampler_stop(&sampler);
    board_unlock(was);
    rig.streaming = false;
}

void rig_set_rate(uint16_t rate)
{
    rig.rate = rate;
    if (rig.streaming) {
        sampler_prepare(&sampler, rate);  // the interrupt does not look at it
        uint8_t was = board_lock();
        sampler_start(&sampler, board_tick());
        board_unlock(was);
    }
}

void rig_apply_settings(const struct settings *settings)
{
    bool rate_changed = settings->rate != rig.rate;
    rig.settings = *settings;
    rig.channels = settings_channels(settings);
    uint8_t was = board_lock();
    sampler_enable(&sampler, rig.channels);
    board_unlock(was);
    if (rate_changed) {
        rig_set_rate(settings->rate);
    }
    update_present();
}

static void send_line(const struct line_window *window)
{
    struct msg_line *message = outbox_message(MSG_LINE, sizeof *message);
    message->tick = window->end;
    if (enabled(CHANNEL_KIND_PRESSURE)) {
        message->pressure_sum = window->fast[INPUT_PRESSURE].sum;
        message->pressure_n = window->fast[INPUT_PRESSURE].n;
    }
    message->differential_sum = window->fast[INPUT_DIFFERENTIAL].sum;
    message->differential_n = window->fast[INPUT_DIFFERENTIAL].n;
    message->thermal_sum = window->fast[INPUT_THERMAL].sum;
    message->thermal_n = window->fast[INPUT_THERMAL].n;
    message->flags = window->flags | (button.down ? LINE_FLAG_BUTTON_DOWN : 0);
    if (enabled(CHANNEL_KIND_ROTOR)) {
        message->pulses = window->rotor.pulses;
        message->edge_tick = window->rotor.edge;
        message->flags |= window->rotor.flags;
    }
    outbox_send_stream();
}

static void lines(void)
{
    struct line_window window;
    while (sampler_take_line(&sampler, &window)) {
        if (rig.streaming) {
            send_line(&window);
        }
    }
}

static void slow_chore(uint32_t now)
{
    (void)now;
    struct slow_window window;
    uint8_t was = board_lock();
    bool closed = sampler_take_slow(&sampler, &window);
    board_unlock(was);
    if (closed && rig.streaming) {
        struct msg_slow *message = outbox_message(MSG_SLOW, sizeof *message);
        message->tick = window.end;
        message->temperature_sum = window.temperature.sum;
        message->temperature_n = window.temperature.n;
        message->bandgap_sum = window.bandgap.sum;
        message->bandgap_n = window.bandgap.n;
        outbox_send_stream();
    }
}

static void ambient_chore(uint32_t now)
{
    if (!enabled(CHANNEL_KIND_AMBIENT)) {
        return;
    }
    bool news = bme280_turn(&ambient, now);
    update_present();
    if (news && rig.streaming) {
        struct msg_ambient *message = outbox_message(MSG_AMBIENT, sizeof *message);
        message->tick = now;
        memcpy(message->burst, ambient.burst, sizeof message->burst);
        message->flags = ambient.flags;
        outbox_send_stream();
    }
}

static void scale_chore(uint32_t now)
{
    if (!enabled(CHANNEL_KIND_SCALE)) {
        return;
    }
    bool news = hx711_turn(&scale, now);
    update_present();
    if (news && rig.streaming) {
        struct msg_scale *message = outbox_message(MSG_SCALE, sizeof *message);
        message->tick = now;
        message->counts = scale.counts;
        message->flags = scale.flags;
        outbox_send_stream();
    }
}

static void button_chore(uint32_t now)
{
    if (button_watch(&button, board_button_down(), now) && enabled(CHANNEL_KIND_BUTTON)) {
        struct msg_mark *message = outbox_message(MSG_MARK, sizeof *message);
        message->tick = button.touched;
        message->number = ++marks;
        message->source = MARK_SOURCE_BUTTON;
        outbox_send();
    }
}

static void health_chore(uint32_t now)
{
    if (!rig.streaming || !tick_reached(now, next_health)) {
        return;
    }
    next_health += HEALTH_EVERY;
    struct board_counts counts = board_counts();
    struct msg_health *message = outbox_message(MSG_HEALTH, sizeof *message);
    uint8_t was = board_lock();
    message->adc_overruns = sampler.overruns;
    message->capture_overruns = rotor.rejected;
    board_unlock(was);
    message->tick = now;
    message->frames_dropped = outbox_dropped();
    message->bus_errors = counts.bus_errors + ambient.losses;
    message->bus_recoveries = counts.bus_recoveries;
    message->receive_errors = counts.receive_errors + rig.receive_errors;
    message->ring_high_water = counts.ring_high_water;
    message->stack_free = board_stack_free();
    message->loop_worst_ticks = worst_turn;
    outbox_send_stream();
}

static void description_chore(uint32_t now)
{
    if (!described) {
        described = ambient.probed || tick_reached(now, next_description);
        if (!described) {
            return;
        }
        next_description = now;
    }
    if (tick_reached(now, next_description)) {
        next_description = now + DESCRIBE_EVERY;
        describe_request();
    }
    describe_turn();
}

// A short flash each second while idle, a long one while streaming.
static void blink(uint32_t now)
{
    uint8_t phase = (uint8_t)(now >> 14) & 127;  // of 8.2 ms each
    board_led(rig.streaming ? phase < 96 : phase < 6);
}

static void keeping_chore(uint32_t now)
{
    uint8_t was = board_lock();
    uint16_t count = sampler.conversions;
    uint16_t lost = sampler.windows_lost;
    rotor_watch(&rotor, board_tick());
    board_unlock(was);
    outbox_count_dropped((uint16_t)(lost - windows_lost));
    windows_lost = lost;
    if (count != conversions) {  // a board whose converter stands still is not well, though its main loop turns
        conversions = count;
        board_feed_watchdog();
    }
    blink(now);
}

static void storage_chore(uint32_t now)
{
    (void)now;
    command_storage_turn();
}

// One of these per turn of the main loop, so that no turn is long: each has its turn about every 7 ms.
static void (*const chores[])(uint32_t now) = {
    keeping_chore, slow_chore, button_chore, ambient_chore, scale_chore, health_chore, storage_chore, description_chore,
};
enum { CHORES = sizeof chores / sizeof chores[0] };

static bool load_settings(void)
{
    struct record *record = &rig.settings_record;
    record->slot[0] = STORAGE_SETTINGS_A;
    record->slot[1] = STORAGE_SETTINGS_B;
    record->size = sizeof(struct settings);
    bool found = record_load(record, &rig.settings) && settings_valid(&rig.settings);
    if (!found) {
        settings_default(&rig.settings, 0);
    }
    rig.rate = rig.settings.rate;
    rig.channels = settings_channels(&rig.settings);
    return found;
}

// Stored before anybody is told, or two boots could have one number. A storage that fails costs the count only.
static void count_boot(void)
{
    struct record record = {.slot = {STORAGE_BOOTS_A, STORAGE_BOOTS_B}, .size = sizeof rig.boot_count};
    uint32_t boots = 0;
    record_load(&record, &boots);
    rig.boot_count = boots + 1;
    record_write_now(&record, &rig.boot_count);
}

void rig_begin(void)
{
    memset(&rig, 0, sizeof rig);
    outbox_begin();
    bool named = load_settings();
    uint16_t spacing = (uint16_t)(WIRE_TICK_HZ * board_adc_cycles / board_adc_clock_hz);
    uint8_t was = board_lock();
    rotor_begin(&rotor);
    sampler_begin(&sampler, rig.channels, spacing);
    board_unlock(was);
    rig.identity = identity_load();
    if (!named) {
        settings_default(&rig.settings, rig.identity);
    }
    count_boot();
    uint32_t now = board_tick();
    bme280_begin(&ambient, now);
    hx711_begin(&scale, now);
    next_chore = 0;
    next_description = now + FIRST_DESCRIPTION_WITHIN;
    described = false;
    update_present();
}

void rig_turn(void)
{
    while (!turn_due) {
        board_rest();
    }
    turn_due = false;
    uint32_t begun = board_tick();
    lines();
    command_turn();
    chores[next_chore](begun);
    next_chore = (uint8_t)(next_chore + 1) % CHORES;
    uint32_t took = board_tick() - begun;
    if (took > worst_turn) {
        worst_turn = took;
    }
}
