#include "core/board.h"
#include "rig/loop.h"

int main(void)
{
    board_begin();
    loop_begin();
    for (;;) {
        loop_turn();
    }
}
