// The modules on their own wires: ambient module and load cell converter. Either may be absent, come and go.
#ifndef FROTHLINE_MODULES_H
#define FROTHLINE_MODULES_H

#include <stdbool.h>
#include <stdint.h>

void modules_begin(uint32_t now);
void modules_ambient_turn(uint32_t now);  // sends a reading when there is one; requests a description when it came or went
void modules_scale_turn(uint32_t now);
bool modules_probed(void);        // the first search for the ambient module is over
uint16_t modules_losses(void);    // times the ambient module stopped answering
void modules_send_trimming(void);

#endif
