#include "core/sampler.h"

#include <stdatomic.h>
#include <string.h>

#include "core/board.h"

#define BIT(kind) (1u << (kind))

enum { SKIP_AFTER_CHANGE = 2, SKIP_BANDGAP = 12 };  // the bandgap needs 1 ms to settle on the converter's input

// What one turn of an input takes from the converter. Sum of skip and take over the fast inputs: 18.
static const struct {
    uint8_t kind;
    uint8_t skip;
    uint8_t take;
} turn[INPUT_COUNT] = {
    [INPUT_PRESSURE] = {CHANNEL_KIND_PRESSURE, SKIP_AFTER_CHANGE, 8},
    [INPUT_DIFFERENTIAL] = {CHANNEL_KIND_DIFFERENTIAL, SKIP_AFTER_CHANGE, 2},
    [INPUT_THERMAL] = {CHANNEL_KIND_THERMAL, SKIP_AFTER_CHANGE, 2},
    [INPUT_TEMPERATURE] = {CHANNEL_KIND_TEMPERATURE, SKIP_AFTER_CHANGE, 4},
    [INPUT_BANDGAP] = {CHANNEL_KIND_SUPPLY, SKIP_BANDGAP, 2},
};

static bool enabled(const struct sampler *sampler, uint8_t input)
{
    return sampler->enabled & BIT(turn[input].kind);
}

static void schedule_next(struct schedule *schedule)
{
    schedule->end += schedule->whole;
    schedule->carried += schedule->remainder;
    if (schedule->carried >= schedule->rate) {
        schedule->carried -= schedule->rate;
        schedule->end++;
    }
}

void sampler_begin(struct sampler *sampler, uint16_t channels, uint16_t spacing)
{
    memset(sampler, 0, sizeof *sampler);
    sampler->enabled = channels;
    sampler->spacing = (uint16_t)(spacing + spacing / 2);
    sampler->input = INPUT_PRESSURE;
    sampler->fast = INPUT_PRESSURE;
    sampler->skip = SKIP_AFTER_CHANGE;
    sampler->take = turn[INPUT_PRESSURE].take;
    sampler->until_slow = SAMPLER_SLOW_EVERY;
}

void sampler_enable(struct sampler *sampler, uint16_t channels)
{
    sampler->enabled = channels;
}

void sampler_prepare(struct sampler *sampler, uint16_t rate)
{
    sampler->change_due = false;  // the interrupt must not take a half-written schedule
    atomic_signal_fence(memory_order_seq_cst);
    sampler->prepared = (struct schedule){
        .whole = (uint32_t)(WIRE_TICK_HZ / rate), .remainder = (uint16_t)(WIRE_TICK_HZ % rate), .rate = rate,
    };
}

void sampler_start(struct sampler *sampler, uint32_t now)
{
    _Static_assert(WIRE_TICK_HZ % SAMPLER_SLOW_RATE == 0, "slow windows are whole ticks");
    memset(sampler->sums, 0, sizeof sampler->sums);
    sampler->line = sampler->prepared;
    sampler->line.end = now;
    schedule_next(&sampler->line);
    sampler->slow_end = now + WIRE_TICK_HZ / SAMPLER_SLOW_RATE;
    sampler->closed_tail = sampler->closed_head;
    sampler->slow_ready = false;
    sampler->window_flags = LINE_FLAG_FIRST;
    sampler->streaming = true;
}

void sampler_change(struct sampler *sampler)
{
    atomic_signal_fence(memory_order_seq_cst);  // the schedule is whole before the interrupt may take it
    *(volatile bool *)&sampler->change_due = true;
}

void sampler_stop(struct sampler *sampler)
{
    sampler->streaming = false;
    sampler->closed_tail = sampler->closed_head;
    sampler->slow_ready = false;
}

static void close_line(struct sampler *sampler, struct rotor *rotor)
{
    rotor_watch(rotor, sampler->line.end);
    uint8_t head = sampler->closed_head;
    if ((uint8_t)(head - sampler->closed_tail) == SAMPLER_WINDOWS) {
        sampler->windows_lost++;
    } else {
        struct line_window *window = &sampler->closed[head % SAMPLER_WINDOWS];
        window->end = sampler->line.end;
        memcpy(window->fast, sampler->sums, sizeof window->fast);
        board_take_received();  // closing takes longer than the line's receiver holds
        window->rotor = *rotor_read(rotor, sampler->line.end);
        window->flags = sampler->window_flags;
        atomic_signal_fence(memory_order_seq_cst);  // the window is whole before its number is seen
        sampler->closed_head = (uint8_t)(head + 1);
    }
    memset(sampler->sums, 0, sizeof sampler->closed[0].fast);
    sampler->window_flags = 0;
    if (sampler->change_due) {
        sampler->change_due = false;
        uint32_t end = sampler->line.end;
        sampler->line = sampler->prepared;
        sampler->line.end = end;
    }
    schedule_next(&sampler->line);
}

static void close_slow(struct sampler *sampler)
{
    sampler->slow_closed.end = sampler->slow_end;
    sampler->slow_closed.temperature = sampler->sums[INPUT_TEMPERATURE];
    sampler->slow_closed.bandgap = sampler->sums[INPUT_BANDGAP];
    sampler->slow_ready = true;
    memset(&sampler->sums[INPUT_TEMPERATURE], 0, 2 * sizeof(struct sum));
    sampler->slow_end += WIRE_TICK_HZ / SAMPLER_SLOW_RATE;
}

static void look_at(struct sampler *sampler, uint8_t input)
{
    sampler->skip = input == sampler->input ? 0 : turn[input].skip;
    sampler->take = turn[input].take;
    sampler->input = input;
}

static void next_turn(struct sampler *sampler)
{
    if (sampler->until_slow == 0 && sampler->fast == INPUT_PRESSURE) {
        sampler->until_slow = SAMPLER_SLOW_EVERY;
        sampler->slow_look = (uint8_t)(sampler->slow_look + 1) % SAMPLER_SLOW_LOOKS;
        uint8_t slow = sampler->slow_look ? INPUT_TEMPERATURE : INPUT_BANDGAP;
        if (enabled(sampler, slow)) {
            if (slow == INPUT_BANDGAP) {
                sampler->fast = INPUT_THERMAL;  // then pressure again: after so long a look no window may be without
            }
            look_at(sampler, slow);
            return;
        }
    }
    // Pressure is looked at even when it is not enabled: the converter must look somewhere.
    uint8_t fast = sampler->fast;
    if (fast == INPUT_PRESSURE && enabled(sampler, INPUT_DIFFERENTIAL)) {
        fast = INPUT_DIFFERENTIAL;
    } else if (fast != INPUT_THERMAL && enabled(sampler, INPUT_THERMAL)) {
        fast = INPUT_THERMAL;
    } else {
        fast = INPUT_PRESSURE;
    }
    sampler->fast = fast;
    look_at(sampler, fast);
}

uint8_t sampler_conversion(struct sampler *sampler, struct rotor *rotor, uint16_t value, uint32_t tick)
{
    if (sampler->running && (uint16_t)((uint16_t)tick - sampler->last) > sampler->spacing) {
        sampler->overruns++;
        sampler->window_flags |= LINE_FLAG_ADC_OVERRUN;
    }
    sampler->running = true;
    sampler->last = (uint16_t)tick;
    sampler->conversions++;
    if (sampler->streaming) {
        if (tick_reached(tick, sampler->line.end)) {
            close_line(sampler, rotor);
        } else if (tick_reached(tick, sampler->slow_end)) {  // a conversion later when both are due: keeps this short
            close_slow(sampler);
        }
    }
    if (sampler->until_slow) {
        sampler->until_slow--;
    }
    if (sampler->skip) {
        sampler->skip--;
    } else {
        struct sum *sum = &sampler->sums[sampler->input];
        sum->sum += value;
        sum->n++;
        if (--sampler->take == 0) {
            next_turn(sampler);
        }
    }
    return sampler->input;
}

bool sampler_take_line(struct sampler *sampler, struct line_window *window)
{
    uint8_t tail = sampler->closed_tail;
    if (tail == *(volatile uint8_t *)&sampler->closed_head) {
        return false;
    }
    *window = sampler->closed[tail % SAMPLER_WINDOWS];
    atomic_signal_fence(memory_order_seq_cst);
    *(volatile uint8_t *)&sampler->closed_tail = (uint8_t)(tail + 1);
    return true;
}

bool sampler_take_slow(struct sampler *sampler, struct slow_window *window)
{
    if (!sampler->slow_ready) {
        return false;
    }
    *window = sampler->slow_closed;
    sampler->slow_ready = false;
    return true;
}
