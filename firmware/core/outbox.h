// One place where every frame is numbered, closed and handed to the line; what does not fit is dropped whole.
#ifndef FROTHLINE_OUTBOX_H
#define FROTHLINE_OUTBOX_H

#include <stdbool.h>
#include <stdint.h>

void outbox_begin(void);

// Memory for the next message, all zero, its id set. Valid until outbox_send; the main loop only.
void *outbox_message(uint8_t id, uint8_t size);
bool outbox_send(void);  // false: dropped, and counted

// A message that had to be dropped before it was made: it takes a number all the same.
void outbox_count_dropped(uint16_t messages);
uint32_t outbox_dropped(void);

#endif
