#include "rig/loop.h"

#include <stdbool.h>
#include <stdint.h>

#include "core/board.h"
#include "core/button.h"
#include "core/command.h"
#include "core/describe.h"
#include "core/messages.h"
#include "core/outbox.h"
#include "core/state.h"
#include "core/stream.h"
#include "core/tick.h"
#include "rig/modules.h"

static struct button button;
static uint16_t marks;
static uint8_t next_chore;
static uint32_t next_description;
static bool described;            // the first description waits until the ambient module has been looked for
static uint32_t worst_turn;

#define DESCRIBE_EVERY (5000ul * TICKS_PER_MS)
#define FIRST_DESCRIPTION_WITHIN (100ul * TICKS_PER_MS)

static void slow_chore(uint32_t now)
{
    (void)now;
    stream_send_slow();
}

static void ambient_chore(uint32_t now)
{
    modules_ambient_turn(now);
}

static void scale_chore(uint32_t now)
{
    modules_scale_turn(now);
}

static void button_chore(uint32_t now)
{
    bool pressed = button_watch(&button, board_button_down(), now);
    rig.button_down = button.down;
    if (pressed && state_measures(CHANNEL_KIND_BUTTON)) {
        struct msg_mark *message = outbox_message(MSG_MARK, sizeof *message);
        message->tick = button.touched;
        message->number = ++marks;
        message->source = MARK_SOURCE_BUTTON;
        outbox_send();
    }
}

static void health_chore(uint32_t now)
{
    if (!stream_health_due(now)) {
        return;
    }
    struct board_counts board = board_counts();
    struct stream_counts stream = stream_counts();
    struct msg_health *message = outbox_message(MSG_HEALTH, sizeof *message);
    message->adc_overruns = stream.adc_overruns;
    message->capture_overruns = stream.capture_overruns;
    message->tick = now;
    message->frames_dropped = outbox_dropped();
    message->bus_errors = board.bus_errors + modules_losses();
    message->bus_recoveries = board.bus_recoveries;
    message->receive_errors = board.receive_errors + rig.receive_errors;
    message->ring_high_water = board.ring_high_water;
    message->stack_free = board_stack_free();
    message->loop_worst_ticks = worst_turn;
    outbox_send_stream();
}

static void description_chore(uint32_t now)
{
    if (!described) {
        described = modules_probed() || tick_reached(now, next_description);
        if (!described) {
            return;
        }
        next_description = now;
    }
    if (tick_reached(now, next_description)) {
        next_description = now + DESCRIBE_EVERY;
        rig.describe_request = true;
    }
    if (describe_turn()) {
        modules_send_trimming();
    }
}

// A short flash each second while idle, a long one while streaming.
static void blink(uint32_t now)
{
    uint8_t phase = (uint8_t)(now >> 14) & 127;  // of 8.2 ms each
    board_led(rig.streaming ? phase < 96 : phase < 6);
}

static void keeping_chore(uint32_t now)
{
    if (stream_watch()) {  // a board whose converter has stopped is reset, though its main loop turns
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

void loop_begin(void)
{
    outbox_begin();
    bool settings_found = state_begin();
    stream_begin();
    state_identify(settings_found);
    uint32_t now = board_tick();
    modules_begin(now);
    next_chore = 0;
    next_description = now + FIRST_DESCRIPTION_WITHIN;
    described = false;
    state_update_present();
}

void loop_turn(void)
{
    while (!stream_turn_due()) {
        board_rest();
    }
    uint32_t begun = board_tick();
    stream_send_lines();
    command_turn();
    chores[next_chore](begun);
    next_chore = (uint8_t)(next_chore + 1) % CHORES;
    uint32_t took = board_tick() - begun;
    if (took > worst_turn) {
        worst_turn = took;
    }
}
