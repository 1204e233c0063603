#include "core/stream.h"

#include "core/board.h"
#include "core/identity.h"
#include "core/messages.h"
#include "core/outbox.h"
#include "core/rotor.h"
#include "core/sampler.h"
#include "core/state.h"
#include "core/tick.h"

// Shared with the board's interrupts, which call stream_conversion and stream_edge: the main loop touches these two only
// between board_lock and board_unlock, but for sampler_take_line, whose ring of windows needs no lock.
static struct sampler sampler;
static struct rotor rotor;

static uint16_t windows_lost;     // as far as they have been numbered
static uint16_t conversions;      // at the last call of stream_watch
static uint32_t next_health;

#define HEALTH_EVERY (1000ul * TICKS_PER_MS)

// Set by the conversion interrupt when a turn of the main loop is worth while, cleared by the main loop.
static volatile bool turn_due;
enum { TURN_EVERY = 8 };  // conversions, 0.83 ms; 41 received bytes

void stream_begin(void)
{
    uint16_t spacing = (uint16_t)(WIRE_TICK_HZ * board_adc_cycles / board_adc_clock_hz);
    uint8_t was = board_lock();
    rotor_begin(&rotor);
    sampler_begin(&sampler, rig.channels, spacing);
    board_unlock(was);
}

uint8_t stream_conversion(uint16_t value, uint32_t tick)
{
    identity_conversion(value);
    uint8_t closed = sampler.closed_head;
    uint8_t input = sampler_conversion(&sampler, &rotor, value, tick);
    if (sampler.closed_head != closed || sampler.conversions % TURN_EVERY == 0) {
        turn_due = true;
    }
    return input;
}

void stream_edge(uint32_t tick)
{
    rotor_edge(&rotor, tick);
}

void stream_start(void)
{
    if (rig.streaming) {
        return;
    }
    rig.streaming = true;
    sampler_prepare(&sampler, rig.rate);  // the interrupt does not look at it
    uint8_t was = board_lock();
    sampler_start(&sampler, board_tick());
    board_unlock(was);
    next_health = board_tick() + HEALTH_EVERY;
}

void stream_stop(void)
{
    uint8_t was = board_lock();
    sampler_stop(&sampler);
    board_unlock(was);
    rig.streaming = false;
}

void stream_set_rate(uint16_t rate)
{
    bool changed = rate != rig.rate;
    rig.rate = rate;
    if (rig.streaming && changed) {
        sampler_prepare(&sampler, rate);
        sampler_change(&sampler);
    }
}

void stream_apply_settings(const struct settings *settings)
{
    bool rate_changed = settings->rate != rig.rate;
    rig.settings = *settings;
    rig.channels = settings_channels(settings);
    uint8_t was = board_lock();
    sampler_enable(&sampler, rig.channels);
    board_unlock(was);
    if (rate_changed) {
        stream_set_rate(settings->rate);
    }
    state_update_present();
}

bool stream_turn_due(void)
{
    bool due = turn_due;
    if (due) {
        turn_due = false;
    }
    return due;
}

static void send_line(const struct line_window *window)
{
    struct msg_line *message = outbox_message(MSG_LINE, sizeof *message);
    message->tick = window->end;
    if (state_measures(CHANNEL_KIND_PRESSURE)) {
        message->pressure_sum = window->fast[INPUT_PRESSURE].sum;
        message->pressure_n = window->fast[INPUT_PRESSURE].n;
    }
    message->differential_sum = window->fast[INPUT_DIFFERENTIAL].sum;
    message->differential_n = window->fast[INPUT_DIFFERENTIAL].n;
    message->thermal_sum = window->fast[INPUT_THERMAL].sum;
    message->thermal_n = window->fast[INPUT_THERMAL].n;
    message->flags = (uint8_t)(window->flags | (rig.button_down ? LINE_FLAG_BUTTON_DOWN : 0));
    if (state_measures(CHANNEL_KIND_ROTOR)) {
        message->pulses = window->rotor.pulses;
        message->edge_tick = window->rotor.edge;
        message->flags |= window->rotor.flags;
    }
    outbox_send_stream();
}

void stream_send_lines(void)
{
    struct line_window window;
    while (sampler_take_line(&sampler, &window)) {
        if (rig.streaming) {
            send_line(&window);
        }
    }
}

void stream_send_slow(void)
{
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

bool stream_health_due(uint32_t now)
{
    if (!rig.streaming || !tick_reached(now, next_health)) {
        return false;
    }
    next_health += HEALTH_EVERY;
    return true;
}

bool stream_watch(void)
{
    uint8_t was = board_lock();
    uint16_t count = sampler.conversions;
    uint16_t lost = sampler.windows_lost;
    rotor_watch(&rotor, board_tick());
    board_unlock(was);
    outbox_count_dropped((uint16_t)(lost - windows_lost));
    windows_lost = lost;
    bool converting = count != conversions;
    conversions = count;
    return converting;
}

struct stream_counts stream_counts(void)
{
    uint8_t was = board_lock();
    struct stream_counts counts = {.adc_overruns = sampler.overruns, .capture_overruns = rotor.rejected};
    board_unlock(was);
    return counts;
}
