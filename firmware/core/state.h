// What the parts of the firmware share. One instance; the main loop owns it, and no interrupt touches it.
#ifndef FROTHLINE_STATE_H
#define FROTHLINE_STATE_H

#include <stdbool.h>
#include <stdint.h>

#include "core/linear.h"
#include "core/record.h"
#include "core/settings.h"

enum { FIRMWARE_MAJOR = 0, FIRMWARE_MINOR = 3, FIRMWARE_PATCH = 0 };

struct rig_state {
    struct settings settings;
    struct record settings_record;
    struct linear_lines linear;
    struct record linear_record;
    union {                             // while one of the two records is being written
        struct settings settings;
        struct linear_lines linear;
    } to_write;
    uint8_t write_command;              // the command that started the writing
    uint16_t write_sequence;            // and its number
    uint32_t identity;      // of this board, from its first boot on; 0 when it could not be stored
    uint32_t boot_count;
    uint16_t rate;          // line messages per second, until the next boot
    uint16_t channels;      // bit n: channel kind n is measured
    uint16_t present;       // bit n: channel kind n answers
    uint16_t answering;     // bit n: module n answered when it was last read, whether or not its channel is measured
    uint8_t ambient_sensor; // enum sensor_kind: which ambient module was found
    bool streaming;
    bool button_down;
    bool describe_request;  // send the whole description, from its beginning
    uint16_t receive_errors;  // damaged command frames
};
extern struct rig_state rig;

bool state_begin(void);             // loads the settings; false when none are stored
void state_identify(bool settings_found);  // identity, default label and boot count; needs conversions, up to 0.1 s
bool state_measures(uint8_t channel_kind);

// Works out `present` from `channels` and `answering`. True when it changed.
bool state_update_present(void);

#endif
