// One place where every frame is numbered, closed and handed to the line; what does not fit is dropped whole.
#ifndef FROTHLINE_OUTBOX_H
#define FROTHLINE_OUTBOX_H

#include <stdbool.h>
#include <stdint.h>

#include "core/frame.h"

// The stream leaves this much of the ring free, so that answers and the description get through on a choked line.
enum { OUTBOX_RESERVE = FRAME_LARGEST_SENT };

void outbox_begin(void);

// Memory for the next message, all zero, its id set. Valid until outbox_send; the main loop only.
void *outbox_message(uint8_t id, uint8_t size);
bool outbox_send(void);         // answers, description, marks. False: dropped, and counted
bool outbox_send_stream(void);  // the same for what comes again anyway; leaves the reserve alone

// A message that had to be dropped before it was made: it takes a number all the same.
void outbox_count_dropped(uint16_t messages);
uint32_t outbox_dropped(void);

#endif
