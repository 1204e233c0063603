// A record that survives a power cut at any moment: two slots, the newer valid one counts.
//
// A slot is: sequence (16 bit), payload, CRC-32 over both; little-endian. A write goes to the slot that does not
// count, byte by byte, the check last; until its last byte stands the other slot still counts. Sequences are
// compared circularly, so they may wrap. Nothing here waits: record_step does one byte and returns.
// All records share the memory of the slot being written or read: while one is writing, no other may be loaded or written.
#ifndef FROTHLINE_RECORD_H
#define FROTHLINE_RECORD_H

#include <stdbool.h>
#include <stdint.h>

enum { RECORD_LARGEST_PAYLOAD = 32, RECORD_OVERHEAD = 6 };

struct record {
    // set by the owner
    uint16_t slot[2];   // addresses in the storage
    uint8_t size;       // of the payload
    // kept by the functions
    uint16_t sequence;  // of the slot that counts; 0 when there is none
    uint8_t current;    // which slot counts; 1 when there is none, so that writing begins with slot 0
    bool found;
    bool writing;
    uint8_t position;
};

enum record_result { RECORD_IDLE, RECORD_WRITING, RECORD_DONE, RECORD_FAILED };

// Reads the payload of the slot that counts; false, and the payload untouched, when there is none.
bool record_load(struct record *record, void *payload);

void record_write(struct record *record, const void *payload);  // begins; a write under way is given up
enum record_result record_step(struct record *record);          // one byte at most; DONE or FAILED once

// Writes the whole record; false when it was not kept or took over 200 ms. Waits, so before the main loop only.
bool record_write_now(struct record *record, const void *payload);

#endif
