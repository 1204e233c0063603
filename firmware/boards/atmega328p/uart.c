// The serial line at 500 kBd, both ways through rings. 16 MHz / 16 / 2 is exact.
#include <avr/interrupt.h>
#include <avr/io.h>

#include "core/board.h"
#include "core/messages.h"
#include "core/ring.h"
#include "parts.h"

_Static_assert(F_CPU % (16ul * WIRE_BAUD) == 0, "the line's rate divides the clock");

enum { RECEIVE_CAPACITY = 128, SEND_CAPACITY = 256 };

static uint8_t receive_bytes[RECEIVE_CAPACITY];
static uint8_t send_bytes[SEND_CAPACITY];
static struct ring receiving = {.bytes = receive_bytes, .mask = RECEIVE_CAPACITY - 1};  // writer: interrupt
static struct ring sending = {.bytes = send_bytes, .mask = SEND_CAPACITY - 1};          // reader: interrupt
static volatile uint16_t errors;  // written by the interrupt
static uint8_t high_water;        // the main loop's

void uart_begin(void)
{
    UBRR0 = F_CPU / (16ul * WIRE_BAUD) - 1;
    UCSR0A = 0;
    UCSR0C = (1u << UCSZ01) | (1u << UCSZ00);  // 8N1
    UCSR0B = (1u << RXEN0) | (1u << TXEN0) | (1u << RXCIE0);
}

// Takes all that the receiver holds. Interrupts are off.
void board_take_received(void)
{
    uint8_t status;
    while ((status = UCSR0A) & (1u << RXC0)) {
        uint8_t byte = UDR0;
        if ((status & (1u << FE0)) || !ring_put(&receiving, byte)) {
            errors++;
        } else if (status & (1u << DOR0)) {  // this byte is good, one before it was lost
            errors++;
        }
    }
}

ISR(USART_RX_vect)
{
    board_take_received();
}

ISR(USART_UDRE_vect)
{
    uint8_t byte;
    if (ring_take(&sending, &byte)) {
        UDR0 = byte;
    } else {
        UCSR0B &= (uint8_t)~(1u << UDRIE0);
    }
}

bool board_send(const uint8_t *bytes, uint8_t length)
{
    if (!ring_put_whole(&sending, bytes, length)) {
        return false;
    }
    uint8_t used = ring_used(&sending);
    if (used > high_water) {
        high_water = used;
    }
    uint8_t was = board_lock();
    UCSR0B |= 1u << UDRIE0;
    board_unlock(was);
    return true;
}

uint8_t board_send_room(void)
{
    return ring_room(&sending);
}

bool board_receive(uint8_t *byte)
{
    return ring_take(&receiving, byte);
}

uint16_t uart_receive_errors(void)
{
    return errors;
}

uint8_t uart_high_water(void)
{
    return high_water;
}
