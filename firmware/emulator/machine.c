#include "machine.h"

void machine_drive(avr_irq_t *pin, int level)
{
    // The simulator passes over a level that it believes the pin has; after a reset its register has forgotten it.
    pin->value = (uint32_t)!level;
    avr_raise_irq(pin, (uint32_t)level);
}
