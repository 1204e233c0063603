// Commands from the host: each is answered by an ack, in the order they came.
#ifndef FROTHLINE_COMMAND_H
#define FROTHLINE_COMMAND_H

void command_turn(void);          // takes received bytes; obeys at most one command
void command_storage_turn(void);  // one byte of the settings being written; the ack when they stand

#endif
