#include "core/button.h"

bool button_watch(struct button *button, bool contact, uint32_t now)
{
    if (contact == button->down) {
        button->changing = false;
        return false;
    }
    if (!button->changing) {
        button->changing = true;
        button->touched = now;
        return false;
    }
    if (now - button->touched < BUTTON_STEADY_TICKS) {
        return false;
    }
    button->changing = false;
    button->down = contact;
    return contact;
}
