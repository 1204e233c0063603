// Timer 1 at 16 MHz / 8: the board clock, and the capture of rotor edges on the same count.
#include <avr/interrupt.h>
#include <avr/io.h>

#include "core/board.h"
#include "core/stream.h"
#include "core/tick.h"
#include "parts.h"
#include "pins.h"

_Static_assert(F_CPU / 8 == WIRE_TICK_HZ, "timer 1 counts ticks");

// Written by the overflow interrupt; read in interrupts or with interrupts off.
static volatile uint16_t overflows;

void clock_begin(void)
{
    DDRB &= (uint8_t)~(1u << ROTOR_PIN);
    PORTB |= 1u << ROTOR_PIN;
    TCCR1A = 0;
    TCCR1B = (1u << ICNC1) | (1u << CS11);  // noise canceller: four equal samples, 0.25 us; falling edge; / 8
    TIFR1 = (1u << ICF1) | (1u << TOV1);
    TIMSK1 = (1u << ICIE1) | (1u << TOIE1);
}

uint32_t clock_now(void)
{
    uint16_t timer = TCNT1;
    return tick_extend(overflows, timer, TIFR1 & (1u << TOV1));
}

uint32_t board_tick(void)
{
    uint8_t was = board_lock();
    uint32_t tick = clock_now();
    board_unlock(was);
    return tick;
}

ISR(TIMER1_OVF_vect)
{
    overflows++;
}

ISR(TIMER1_CAPT_vect)
{
    uint16_t captured = ICR1;
    stream_edge(tick_extend(overflows, captured, TIFR1 & (1u << TOV1)));
    board_take_received();
}
