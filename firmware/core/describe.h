// The description of the board: one description message, the channels, the trimming; a frame per call, as room allows.
#ifndef FROTHLINE_DESCRIBE_H
#define FROTHLINE_DESCRIBE_H

void describe_request(void);  // from the beginning, also when a set is under way
void describe_turn(void);     // sends the next frame of the set if there is one and room for it

#endif
