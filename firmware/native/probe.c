// The portable part at a prompt: a request a line, an answer a line. For the tests, which hold it against others' work.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/button.h"
#include "core/crc32.h"
#include "core/frame.h"
#include "core/record.h"
#include "core/ring.h"
#include "core/rotor.h"
#include "core/sampler.h"
#include "core/state.h"
#include "core/tick.h"
#include "drivers/bme280.h"
#include "drivers/hx711.h"
#include "native/fake.h"
#include "rig/loop.h"

enum { WORDS = 1 << 14, LINE = 1 << 18 };

static char line[LINE];
static char *words[WORDS];
static int count;
static uint8_t bytes[LINE / 2];

static long number(int i)
{
    if (i >= count) {
        fprintf(stderr, "%s: word %d is missing\n", words[0], i);
        exit(2);
    }
    return strtol(words[i], NULL, 0);
}

static uint32_t tick_at(int i)
{
    return (uint32_t)strtoul(words[i], NULL, 0);
}

static int from_hex(const char *text)
{
    int length = (int)strlen(text) / 2;
    for (int i = 0; i < length; i++) {
        unsigned value;
        if (sscanf(text + 2 * i, "%2x", &value) != 1) {
            exit(2);
        }
        bytes[i] = (uint8_t)value;
    }
    return length;
}

static int hex_word(int i)  // "-" stands for no bytes
{
    return i < count && strcmp(words[i], "-") != 0 ? from_hex(words[i]) : 0;
}

static void print_hex(const uint8_t *data, long length)
{
    if (length == 0) {
        putchar('-');
    }
    while (length--) {
        printf("%02x", *data++);
    }
}

static void do_crc(void)
{
    int length = hex_word(1);
    printf("%08lx", (unsigned long)crc32(bytes, (uint16_t)length));
}

static void do_close(void)
{
    int length = hex_word(1);
    uint8_t *buffer = malloc((size_t)length + FRAME_OVERHEAD);  // of the exact size, so that a byte beyond is caught
    memcpy(buffer + FRAME_LEAD, bytes, (size_t)length);
    print_hex(buffer, frame_close(buffer, (uint8_t)length));
    free(buffer);
}

static void do_collect(void)
{
    static struct frame_collector collector;
    int length = hex_word(1);
    for (int i = 0; i < length; i++) {
        int8_t result = frame_collect(&collector, bytes[i]);
        if (result == FRAME_DAMAGED) {
            printf("damaged ");
        } else if (result != FRAME_PENDING) {
            print_hex(collector.bytes, result);
            putchar(' ');
        }
    }
}

static void do_ring(void)  // ring CAPACITY +n: put n whole, -n: take up to n, ?: room; bytes are numbered from 0
{
    struct ring ring = {.bytes = malloc((size_t)number(1)), .mask = (uint8_t)(number(1) - 1)};
    uint8_t next = 0;
    for (int i = 2; i < count; i++) {
        int n = atoi(words[i] + 1);
        if (words[i][0] == '?') {
            printf("%d ", ring_room(&ring));
        } else if (words[i][0] == '+') {
            uint8_t frame[256];
            for (int k = 0; k < n; k++) {
                frame[k] = (uint8_t)(next + k);
            }
            bool fits = ring_put_whole(&ring, frame, (uint8_t)n);
            next = (uint8_t)(next + (fits ? n : 0));
            printf("%d ", fits);
        } else {
            uint8_t byte;
            printf("[");
            while (n-- && ring_take(&ring, &byte)) {
                printf("%02x", byte);
            }
            printf("] ");
        }
    }
    free(ring.bytes);
}

static void do_rotor(void)  // rotor edge|watch|read TICK ... in turn, from the beginning
{
    struct rotor rotor;
    rotor_begin(&rotor);
    for (int i = 1; i + 1 < count; i += 2) {
        uint32_t tick = tick_at(i + 1);
        if (words[i][0] == 'e') {
            rotor_edge(&rotor, tick);
        } else if (words[i][0] == 'w') {
            rotor_watch(&rotor, tick);
        } else {
            const struct rotor_reading *r = rotor_read(&rotor, tick);
            printf("%lu,%lu,%d,%d ", (unsigned long)r->pulses, (unsigned long)r->edge, r->flags, rotor.rejected);
        }
    }
}

static void do_button(void)  // button CONTACT TICK ...: the tick of each press
{
    struct button button = {0};
    for (int i = 1; i + 1 < count; i += 2) {
        if (button_watch(&button, number(i), tick_at(i + 1))) {
            printf("%lu ", (unsigned long)button.touched);
        }
    }
}

static void do_windows(void)  // windows RATE START CONVERSIONS CHANNELS: "end,pressure_n,differential_n,thermal_n,flags"
{
    static struct sampler sampler;
    static struct rotor rotor;
    rotor_begin(&rotor);
    sampler_begin(&sampler, (uint16_t)number(4), 208);
    uint32_t tick = tick_at(2);
    sampler_prepare(&sampler, (uint16_t)number(1));
    sampler_start(&sampler, tick);
    for (long i = 0; i < number(3); i++) {
        tick += 208;
        sampler_conversion(&sampler, &rotor, 1, tick);
        struct line_window w;
        while (sampler_take_line(&sampler, &w)) {
            printf("%lu,%d,%d,%d,%d ", (unsigned long)w.end, w.fast[0].n, w.fast[1].n, w.fast[2].n, w.flags);
        }
        struct slow_window s;
        if (sampler_take_slow(&sampler, &s)) {
            printf("slow,%lu,%d,%d ", (unsigned long)s.end, s.temperature.n, s.bandgap.n);
        }
    }
}

static void do_inputs(void)  // inputs CHANNELS CONVERSIONS: the input after each, as one digit
{
    static struct sampler sampler;
    static struct rotor rotor;
    sampler_begin(&sampler, (uint16_t)number(1), 208);
    for (long i = 0; i < number(2); i++) {
        printf("%d", sampler_conversion(&sampler, &rotor, 1, (uint32_t)i * 208));
    }
}

// record SIZE SEQUENCE OLD NEW FAIL TORN: two writes, the second cut at storage write FAIL, whose byte then reads TORN.
// Answers the payload that is found afterwards, the number of writes the whole second record takes, and the payload
// found once a third record (all 0x5A) has been written over the damage.
static void do_record(void)
{
    static const struct record fresh = {.slot = {0x10, 0x40}};
    struct record record = fresh;
    uint8_t old[RECORD_LARGEST_PAYLOAD], new[RECORD_LARGEST_PAYLOAD], found[RECORD_LARGEST_PAYLOAD];
    memset(fake.storage, 0xFF, sizeof fake.storage);
    record.size = (uint8_t)number(1);
    from_hex(words[3]);
    memcpy(old, bytes, record.size);
    from_hex(words[4]);
    memcpy(new, bytes, record.size);
    fake.power_fails_at = -1;
    record_load(&record, found);
    record.sequence = (uint16_t)(number(2) - 2);
    for (int i = 0; i < 2; i++) {  // both slots hold something before
        record_write(&record, old);
        while (record_step(&record) == RECORD_WRITING) {
        }
    }
    fake.writes = 0;
    fake.power_fails_at = number(5);
    fake.torn_byte = (int)number(6);
    record_write(&record, new);
    while (record_step(&record) == RECORD_WRITING) {
    }
    struct record after = fresh;
    after.size = record.size;
    bool any = record_load(&after, found);
    print_hex(found, any ? after.size : 0);
    printf(" %u %ld ", after.sequence, fake.writes);
    fake.power_fails_at = -1;
    memset(new, 0x5A, sizeof new);
    record_write(&after, new);
    while (record_step(&after) == RECORD_WRITING) {
    }
    struct record last = fresh;
    last.size = record.size;
    any = record_load(&last, found);
    print_hex(found, any ? last.size : 0);
}

static void do_run(void)  // run TICKS
{
    uint32_t end = fake.tick + tick_at(1);
    while ((int32_t)(fake.tick - end) < 0) {
        loop_turn();
    }
    printf("%lu", (unsigned long)fake.tick);
}

static void do_receive(void)
{
    int length = hex_word(1);
    int taken = 0;
    while (taken < length && ring_put(&fake_receiving, bytes[taken])) {
        taken++;
    }
    printf("%d", taken);
}

static void do_sent(void)
{
    print_hex(fake.sent, fake.sent_length);
    fake.sent_length = 0;
}

static void do_set(void)  // set WHAT VALUE
{
    long value = number(2);
    const char *what = words[1];
    if (strcmp(what, "tick") == 0) {
        fake.tick = tick_at(2);
    } else if (strcmp(what, "leftover") == 0) {
        fake.leftover = (uint32_t)value;
    } else if (strcmp(what, "rotor") == 0) {
        fake.rotor_every = (uint32_t)value;
        fake.next_edge = fake.tick + (uint32_t)value;
    } else if (strcmp(what, "button") == 0) {
        fake.button = value;
    } else if (strcmp(what, "line") == 0) {
        fake.bytes_per_second = (uint16_t)value;
    } else if (strcmp(what, "deaf") == 0) {
        fake.deaf_conversions = (uint32_t)value;
    } else if (strcmp(what, "ambient") == 0) {
        fake.ambient = value;
        fake.ambient_address = value ? (uint8_t)value : 0x76;
    } else if (strcmp(what, "hang") == 0) {
        fake.bus_hangs = value;
    } else if (strcmp(what, "scale") == 0) {
        fake.scale = value == 1 ? SCALE_HELD_LOW : SCALE_ABSENT;
    } else if (strcmp(what, "counts") == 0) {
        fake.scale = SCALE_CONVERTS;
        fake.scale_counts = (int32_t)value;
    } else if (strcmp(what, "fails") == 0) {
        fake.writes = 0;
        fake.power_fails_at = value;
    } else if (strcmp(what, "dead") == 0) {
        fake.storage_dead = value;
    } else if (strcmp(what, "levels") == 0) {
        fake.adc_levels = (uint32_t)value;
    } else if (strncmp(what, "adc", 3) == 0) {
        fake.codes[what[3] - '0'] = (uint16_t)value;
    } else {
        exit(2);
    }
}

static void do_registers(void)  // registers FIRST HEX
{
    int length = hex_word(2);
    memcpy(fake.registers + number(1), bytes, (size_t)length);
}

static void do_storage(void)  // storage: its bytes; storage HEX: sets them
{
    if (count > 1) {
        memcpy(fake.storage, bytes, (size_t)hex_word(1));
    }
    print_hex(fake.storage, FAKE_STORAGE);
}

static void do_boot(void)
{
    loop_begin();
    printf("%lu", (unsigned long)rig.boot_count);
}

static void do_extend(void)
{
    printf("%lu", (unsigned long)tick_extend((uint16_t)number(1), (uint16_t)number(2), number(3)));
}

static void do_sign(void)
{
    printf("%ld", (long)hx711_sign_extend((uint32_t)number(1)));
}

static void do_measured(void)
{
    hex_word(1);
    printf("%d", bme280_measured(bytes));
}

static void do_fed(void)
{
    printf("%u", fake.watchdog_fed);
}

static const struct {
    const char *name;
    void (*act)(void);
} requests[] = {
    {"crc", do_crc},         {"close", do_close},     {"collect", do_collect},     {"ring", do_ring},
    {"rotor", do_rotor},     {"button", do_button},   {"windows", do_windows},     {"inputs", do_inputs},
    {"record", do_record},   {"extend", do_extend},   {"sign", do_sign},           {"measured", do_measured},
    {"boot", do_boot},       {"run", do_run},         {"receive", do_receive},     {"sent", do_sent},
    {"set", do_set},         {"storage", do_storage}, {"registers", do_registers}, {"fed", do_fed},
};

int main(void)
{
    fake_reset();
    while (fgets(line, sizeof line, stdin)) {
        count = 0;
        for (char *word = strtok(line, " \n"); word && count < WORDS; word = strtok(NULL, " \n")) {
            words[count++] = word;
        }
        if (count == 0) {
            continue;
        }
        size_t i = 0;
        while (i < sizeof requests / sizeof requests[0] && strcmp(words[0], requests[i].name) != 0) {
            i++;
        }
        if (i == sizeof requests / sizeof requests[0]) {
            fprintf(stderr, "no such request: %s\n", words[0]);
            return 2;
        }
        requests[i].act();
        putchar('\n');
        fflush(stdout);
    }
    return 0;
}
