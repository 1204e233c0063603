// The rig: what the board does, turn by turn, and what its parts share. One instance; the main loop owns it.
#ifndef FROTHLINE_RIG_H
#define FROTHLINE_RIG_H

#include <stdbool.h>
#include <stdint.h>

#include "core/record.h"
#include "core/settings.h"

enum { FIRMWARE_MAJOR = 0, FIRMWARE_MINOR = 2, FIRMWARE_PATCH = 0 };

struct rig_state {
    struct settings settings;
    struct record settings_record;
    struct settings settings_to_write;  // while the record is being written
    uint8_t write_command;              // the command that asked for it
    uint16_t write_sequence;            // and its number
    uint32_t identity;     // of this board, from its first boot on; 0 when it could not be stored
    uint32_t boot_count;
    uint16_t rate;         // line messages per second, until the next boot
    uint16_t channels;     // bit n: channel kind n is measured
    uint16_t present;      // bit n: channel kind n answers
    uint8_t ambient_chip;  // id register of the ambient module, 0 when none
    bool streaming;
    uint16_t receive_errors;  // damaged command frames
};
extern struct rig_state rig;

void rig_begin(void);  // after board_begin; about 50 ms: the boot count is stored first
void rig_turn(void);   // one turn of the main loop

// From the board's interrupts; see board.h.
uint8_t rig_conversion(uint16_t value, uint32_t tick);
void rig_edge(uint32_t tick);

// From the commands.
void rig_start(void);
void rig_stop(void);
void rig_set_rate(uint16_t rate);
void rig_apply_settings(const struct settings *settings);
const struct bme280 *rig_ambient(void);

#endif
