// Bytes that outlive a power cut, kept in two sectors of the flash as a list of changes.
//
// A sector is a head and up to 1023 entries of four bytes: address, value, check. A write appends an entry. When the sector
// is full, the other one is erased, the present value of every byte is written there, its head last, and the list goes on
// there. Until its head stands, the old sector counts: a power cut loses the write under way and nothing else.
// The heads are numbered; the newer counts. Numbers are compared circularly.
#include <stdbool.h>
#include <string.h>

#include "core/board.h"
#include "parts.h"

enum {
    BYTES = 512,          // of the storage
    SECTOR = 4096,
    ENTRY = 4,
    PAGE = 256,           // of the flash: no program goes beyond the end of one
    AT_ONCE = 16,         // entries that the move to the other sector programs together
    HEAD = 0xF7,
    CHECK = 0x5A,
    READ = 0x03,
    PROGRAM = 0x02,
    ERASE = 0x20,
    ERASED = 0xFF,
};
#define FIRST_SECTOR 0x1FE000ul  // the last two of 2 MiB

static uint8_t mirror[BYTES];
static uint8_t sector;         // 0 or 1: which one counts
static uint8_t generation;
static uint16_t used;          // bytes of it

static struct {
    enum { AT_REST, APPENDING, ERASING, COPYING, HEADING } step;
    uint16_t next;             // storage byte to copy next
    uint16_t end;              // bytes of the new sector
    uint16_t address;          // the write that is asked for
    uint8_t byte;
} work;

static uint32_t place(uint8_t which, uint16_t offset)
{
    return FIRST_SECTOR + (uint32_t)which * SECTOR + offset;
}

static void command_at(uint8_t *command, uint8_t what, uint32_t at)
{
    command[0] = what;
    command[1] = (uint8_t)(at >> 16);
    command[2] = (uint8_t)(at >> 8);
    command[3] = (uint8_t)at;
}

static void read_entry(uint8_t which, uint16_t offset, uint8_t entry[ENTRY])
{
    uint8_t command[4];
    command_at(command, READ, place(which, offset));
    flash_ask(command, sizeof command, entry, ENTRY);
}

static void program(uint8_t which, uint16_t offset, const uint8_t *entries, uint8_t length)
{
    static uint8_t command[4 + AT_ONCE * ENTRY];
    command_at(command, PROGRAM, place(which, offset));
    memcpy(command + 4, entries, length);
    flash_allow_write();
    flash_ask(command, (uint8_t)(4 + length), 0, 0);
}

static void erase(uint8_t which)
{
    uint8_t command[4];
    command_at(command, ERASE, place(which, 0));
    flash_allow_write();
    flash_ask(command, sizeof command, 0, 0);
}

static void make_entry(uint8_t entry[ENTRY], uint16_t address, uint8_t byte)
{
    entry[0] = (uint8_t)address;
    entry[1] = (uint8_t)(address >> 8);
    entry[2] = byte;
    entry[3] = (uint8_t)(entry[0] ^ entry[1] ^ byte ^ CHECK);
}

static bool entry_valid(const uint8_t entry[ENTRY])
{
    return entry[1] < BYTES >> 8 && entry[3] == (entry[0] ^ entry[1] ^ entry[2] ^ CHECK);
}

static bool is_erased(const uint8_t entry[ENTRY])
{
    return (entry[0] & entry[1] & entry[2] & entry[3]) == ERASED;
}

static void take(const uint8_t entry[ENTRY])
{
    if (entry_valid(entry)) {
        mirror[entry[0] | (uint16_t)entry[1] << 8] = entry[2];
    }
}

// The head of a sector: its number, or -1.
static int16_t head_of(uint8_t which)
{
    uint8_t head[ENTRY];
    read_entry(which, 0, head);
    bool valid = head[0] == HEAD && (head[1] ^ head[2]) == ERASED && head[3] == CHECK;
    return valid ? (int16_t)head[1] : -1;
}

static void write_head(uint8_t which, uint8_t number)
{
    uint8_t head[ENTRY] = {HEAD, number, (uint8_t)~number, CHECK};
    program(which, 0, head, ENTRY);
}

void storage_begin(void)
{
    memset(mirror, ERASED, sizeof mirror);
    while (flash_busy()) {  // what a reset met under way
    }
    int16_t heads[2] = {head_of(0), head_of(1)};
    if (heads[0] < 0 && heads[1] < 0) {  // new: the only time that this waits, under half a second
        erase(0);
        while (flash_busy()) {
        }
        write_head(0, 1);
        while (flash_busy()) {
        }
        heads[0] = 1;
    }
    sector = heads[0] < 0 || (heads[1] >= 0 && (int8_t)(heads[1] - heads[0]) > 0);
    generation = (uint8_t)heads[sector];
    uint8_t entry[ENTRY];
    for (used = ENTRY; used < SECTOR; used += ENTRY) {
        read_entry(sector, used, entry);
        if (is_erased(entry)) {
            break;
        }
        take(entry);
    }
}

static void append(void)
{
    uint8_t entry[ENTRY];
    make_entry(entry, work.address, work.byte);
    program(sector, used, entry, ENTRY);
    work.step = APPENDING;
}

// Programs the next bytes that are not as erased into the new sector; false when there are none left.
static bool copy_some(uint8_t other)
{
    uint8_t entries[AT_ONCE * ENTRY];
    uint8_t length = 0;
    while (work.next < BYTES && length < sizeof entries && (length == 0 || (work.end + length) % PAGE != 0)) {
        if (mirror[work.next] != ERASED) {
            make_entry(entries + length, work.next, mirror[work.next]);
            length = (uint8_t)(length + ENTRY);
        }
        work.next++;
    }
    if (length == 0) {
        return false;
    }
    program(other, work.end, entries, length);
    work.end = (uint16_t)(work.end + length);
    return true;
}

// One step after the flash has done the last one.
static void go_on(void)
{
    uint8_t other = (uint8_t)!sector;
    uint8_t entry[ENTRY];
    switch (work.step) {
    case APPENDING:  // what counts is what the flash holds
        read_entry(sector, used, entry);
        take(entry);
        used += ENTRY;
        work.step = AT_REST;
        break;
    case ERASING:
    case COPYING:
        if (copy_some(other)) {
            work.step = COPYING;
        } else {
            write_head(other, (uint8_t)(generation + 1));
            work.step = HEADING;
        }
        break;
    case HEADING:
        sector = other;
        generation++;
        used = work.end;
        append();
        break;
    case AT_REST:
        break;
    }
}

bool board_storage_ready(void)
{
    if (work.step == AT_REST) {
        return true;
    }
    if (!flash_busy()) {
        go_on();
    }
    return work.step == AT_REST;
}

uint8_t board_storage_read(uint16_t address)
{
    return address < BYTES ? mirror[address] : ERASED;
}

void board_storage_write(uint16_t address, uint8_t byte)
{
    if (address >= BYTES) {
        return;
    }
    work.address = address;
    work.byte = byte;
    if (used < SECTOR) {
        append();
        return;
    }
    erase((uint8_t)!sector);
    work.next = 0;
    work.end = ENTRY;
    work.step = ERASING;
}
