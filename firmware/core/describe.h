// The description of the board: identity, description, channels, converter, linear sensors; a frame per call, as room allows.
#ifndef FROTHLINE_DESCRIBE_H
#define FROTHLINE_DESCRIBE_H

#include <stdbool.h>

// Sends the next frame of the set if there is one and room for it; begins again when rig.describe_request is set.
// True when only the trimming constants of the ambient module are left to send, which the caller does: there is room.
bool describe_turn(void);

#endif
