#include "emulator.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <avr_ioport.h>
#include <sim_hex.h>

#include "ambient.h"
#include "analog.h"
#include "machine.h"
#include "receiver.h"
#include "scale.h"
#include "storage.h"

enum {
    MCUSR = 0x54,
    EDGE_LOW_CYCLES = 480,  // 30 us: the Hall switch conducts
};

static emulator *current;  // whose simulator logs; one thread owns all emulators of a process

static void on_log(struct avr_t *avr, const int level, const char *format, va_list arguments)
{
    if (current && level <= LOG_WARNING) {
        current->complaints++;
    }
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
}

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    emulator *e = param;
    if (e->sent_count < SENT_ROOM) {
        e->sent[e->sent_count++] = (uint8_t)value;
    }
}

static void on_reset(avr_t *avr)
{
    emulator *e = current;
    e->was_reset = true;
    if (!e->own_reset) {
        e->resets++;
    }
    if (e->chip_reset) {
        e->chip_reset(avr);
    }
}

static void drive_pins(emulator *e)
{
    machine_drive(e->rotor, e->edge_up == 0);
    machine_drive(e->push, !e->button);
    scale_pins(e);
}

static avr_cycle_count_t earlier(avr_cycle_count_t a, avr_cycle_count_t b)
{
    return a == 0 || (b != 0 && b < a) ? b : a;
}

static avr_cycle_count_t next_event(const emulator *e)
{
    avr_cycle_count_t next = e->edge_up ? e->edge_up : e->edge_tail != e->edge_head ? e->edges[e->edge_tail] : 0;
    if (e->given_tail != e->given_head) {
        next = earlier(next, e->give_next);
    }
    next = earlier(next, receiver_next(e));
    next = earlier(next, scale_next(e));
    return e->until > e->avr->cycle ? earlier(next, e->until) : next;
}

// Does what is due, and says when the next is.
static avr_cycle_count_t on_time(struct avr_t *avr, avr_cycle_count_t when, void *param)
{
    emulator *e = param;
    avr_cycle_count_t now = avr->cycle;
    if (e->edge_up) {
        if (e->edge_up <= now) {
            e->edge_up = 0;
            avr_raise_irq(e->rotor, 1);
        }
    } else if (e->edge_tail != e->edge_head && e->edges[e->edge_tail] <= now) {
        e->edge_tail = (e->edge_tail + 1) % EDGE_ROOM;
        e->edge_up = now + EDGE_LOW_CYCLES;
        avr_raise_irq(e->rotor, 0);
    }
    receiver_turn(e);
    if (e->given_tail != e->given_head && e->give_next <= now) {
        uint8_t byte = e->given[e->given_tail];
        e->given_tail = (e->given_tail + 1) % GIVEN_ROOM;
        e->give_next = now + RECEIVER_BYTE_CYCLES;
        receiver_start(e, byte);
    }
    scale_turn(e);
    avr_cycle_count_t next = next_event(e);
    return next == 0 ? 0 : next > now ? next : now + 1;
}

static void arm(emulator *e)
{
    avr_cycle_timer_cancel(e->avr, on_time, e);
    avr_cycle_count_t next = next_event(e);
    if (next) {
        avr_cycle_count_t now = e->avr->cycle;
        avr_cycle_timer_register(e->avr, next > now ? next - now : 1, on_time, e);
    }
}

int emulator_run(emulator *e, uint64_t until)
{
    current = e;
    avr_t *avr = e->avr;
    e->until = until;
    arm(e);
    while (avr->cycle < until) {
        avr->run_cycle_limit = until - avr->cycle;
        int state = avr_run(avr);
        if (e->was_reset) {
            e->was_reset = false;
            drive_pins(e);
            arm(e);
        }
        if (state == cpu_Crashed) {
            return EMULATOR_CRASHED;
        }
        if (state == cpu_Done || state == cpu_Stopped) {
            return EMULATOR_STOPPED;
        }
    }
    return EMULATOR_RUNS;
}

void emulator_reset(emulator *e, int cause)
{
    current = e;
    e->own_reset = true;
    avr_reset(e->avr);
    e->own_reset = false;
    e->avr->data[MCUSR] = (uint8_t)cause;
    e->sent_count = 0;
    e->given_head = e->given_tail = 0;
    receiver_clear(e);
    drive_pins(e);
}

emulator *emulator_new(const char *image, uint64_t noise_start)
{
    avr_global_logger_set(on_log);
    uint32_t size = 0;
    uint32_t start = 0;
    uint8_t *code = read_ihex_file(image, &size, &start);
    if (!code) {
        return NULL;
    }
    emulator *e = calloc(1, sizeof *e);
    avr_t *avr = avr_make_mcu_by_name("atmega328p");
    if (!e || !avr) {
        free(code);
        free(e);
        return NULL;
    }
    current = e;
    e->avr = avr;
    e->own_reset = true;
    avr_init(avr);
    avr->frequency = EMULATOR_FREQUENCY;
    avr->sleep = no_sleep;
    avr->log = LOG_WARNING;
    avr_loadcode(avr, code, size, start);
    avr->codeend = size + start;
    free(code);

    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_sent, e);
    receiver_begin(e);
    e->rotor = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('B'), 0);
    e->push = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2);
    e->analog.random = noise_start * 2654435761u + 0x9E3779B97F4A7C15ull;
    analog_begin(e);
    ambient_begin(e);
    scale_begin(e);
    storage_begin(e);
    e->chip_reset = avr->reset;
    avr->reset = on_reset;
    emulator_reset(e, EMULATOR_POWER_ON);
    return e;
}

void emulator_free(emulator *e)
{
    if (e) {
        current = e;
        avr_terminate(e->avr);
        free(e);
        current = NULL;
    }
}

uint64_t emulator_cycle(const emulator *e)
{
    return e->avr->cycle;
}

void emulator_poke(emulator *e, uint16_t address, uint8_t value)
{
    if (address <= e->avr->ramend) {
        e->avr->data[address] = value;
    }
}

uint8_t emulator_peek(const emulator *e, uint16_t address)
{
    return address <= e->avr->ramend ? e->avr->data[address] : 0;
}

uint32_t emulator_resets(const emulator *e)
{
    return e->resets;
}

uint32_t emulator_overruns(const emulator *e)
{
    return e->receiver.lost;
}

uint32_t emulator_complaints(const emulator *e)
{
    return e->complaints;
}

int emulator_storage_busy(const emulator *e)
{
    return storage_busy(e);
}

void emulator_storage_get(emulator *e, uint8_t bytes[EMULATOR_STORAGE])
{
    storage_get(e, bytes);
}

void emulator_storage_set(emulator *e, const uint8_t bytes[EMULATOR_STORAGE])
{
    storage_set(e, bytes);
}

void emulator_cut_power(emulator *e, uint32_t luck)
{
    storage_cut_power(e, luck);
    emulator_reset(e, EMULATOR_POWER_ON);
}

void emulator_analog(emulator *e, const double from[EMULATOR_INPUTS], const double to[EMULATOR_INPUTS], uint64_t until,
                     double noise)
{
    analog_set(e, from, to, until, noise);
}

void emulator_ambient(emulator *e, int present, const uint8_t low[26], const uint8_t high[16], const uint8_t burst[8])
{
    ambient_set(e, present, low, high, burst);
}

void emulator_scale(emulator *e, int present, int32_t counts, uint32_t per_second)
{
    scale_set(e, present, counts, per_second);
}

void emulator_edges(emulator *e, const uint64_t *cycles, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        size_t head = (e->edge_head + 1) % EDGE_ROOM;
        if (head != e->edge_tail) {
            e->edges[e->edge_head] = cycles[i] ? cycles[i] : 1;  // 0 stands for none; the chip is still in reset there
            e->edge_head = head;
        }
    }
}

void emulator_button(emulator *e, int down)
{
    if (e->button != (down != 0)) {
        e->button = down != 0;
        machine_drive(e->push, !e->button);
    }
}

size_t emulator_give(emulator *e, const uint8_t *bytes, size_t count)
{
    if (e->given_head == e->given_tail && e->give_next < e->avr->cycle) {
        e->give_next = e->avr->cycle + 1;
    }
    size_t taken = 0;
    while (taken < count && (e->given_head + 1) % GIVEN_ROOM != e->given_tail) {
        e->given[e->given_head] = bytes[taken++];
        e->given_head = (e->given_head + 1) % GIVEN_ROOM;
    }
    return taken;
}

size_t emulator_take(emulator *e, uint8_t *bytes, size_t room)
{
    size_t count = e->sent_count < room ? e->sent_count : room;
    memcpy(bytes, e->sent, count);
    memmove(e->sent, e->sent + count, e->sent_count - count);
    e->sent_count -= count;
    return count;
}
