#include "core/board.h"
#include "core/rig.h"

int main(void)
{
    board_begin();
    rig_begin();
    for (;;) {
        rig_turn();
    }
}
