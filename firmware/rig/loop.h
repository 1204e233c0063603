// What the board does, turn by turn.
#ifndef FROTHLINE_LOOP_H
#define FROTHLINE_LOOP_H

void loop_begin(void);  // after board_begin; about 50 ms: the boot count is stored first
void loop_turn(void);   // one turn of the main loop

#endif
