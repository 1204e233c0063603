// The serial line at 500 kBd through two rings. Chip and rings hold 32 bytes; the conversion interrupt moves them every
// 104 us, in which five come and five go.
#include "core/board.h"
#include "core/messages.h"
#include "core/ring.h"
#include "parts.h"
#include "pins.h"
#include "registers.h"

enum { RECEIVE_CAPACITY = 128, SEND_CAPACITY = 256, DIVISOR_64THS = CLOCK_HZ * 4 / WIRE_BAUD };
_Static_assert(CLOCK_HZ * 4ul % WIRE_BAUD == 0, "the line's rate divides the clock");

static uint8_t receive_bytes[RECEIVE_CAPACITY];
static uint8_t send_bytes[SEND_CAPACITY];
static struct ring receiving = {.bytes = receive_bytes, .mask = RECEIVE_CAPACITY - 1};  // writer: interrupt
static struct ring sending = {.bytes = send_bytes, .mask = SEND_CAPACITY - 1};          // reader: interrupt
static volatile uint16_t errors;  // written by the interrupt
static uint8_t high_water;        // the main loop's

void uart_begin(void)
{
    pin_begin(SEND_PIN, FUNCTION_UART, 0);
    pin_begin(RECEIVE_PIN, FUNCTION_UART, PAD_INPUT | PAD_SCHMITT | PAD_PULL_UP);
    REGISTER(UART_WHOLE) = DIVISOR_64THS / 64;
    REGISTER(UART_FRACTION) = DIVISOR_64THS % 64;
    REGISTER(UART_LINE) = UART_8_BITS | ON(UART_FIFO);  // takes the rate over as well
    REGISTER(UART_CTRL) = UART_ON;
}

// Takes all that the receiver holds. Interrupts are off, or this is one.
void board_take_received(void)
{
    while (!(REGISTER(UART_FLAGS) & ON(UART_EMPTY))) {
        uint32_t data = REGISTER(UART_DATA);
        if ((data & UART_BAD) || !ring_put(&receiving, (uint8_t)data)) {
            errors++;
        }
    }
}

void uart_turn(void)
{
    board_take_received();
    uint8_t byte;
    while (!(REGISTER(UART_FLAGS) & ON(UART_FULL)) && ring_take(&sending, &byte)) {
        REGISTER(UART_DATA) = byte;
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
