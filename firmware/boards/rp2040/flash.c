// The flash chip, asked byte by byte. The program runs from RAM, so interrupts go on meanwhile.
#include "parts.h"
#include "registers.h"

enum { WRITE_ENABLE = 0x06, READ_STATUS = 0x05, BUSY_BIT = 1, IN_FLIGHT = 14 };

void flash_begin(void)
{
    REGISTER(QSPI_SELECT_CTRL) = QSPI_SELECT_HIGH;
    REGISTER(SSI_ENABLE) = 0;
    REGISTER(SSI_CTRLR0) = SSI_8_BITS;
    REGISTER(SSI_BAUD) = 10;  // 12.5 MHz
    REGISTER(SSI_SELECT) = 1;
    REGISTER(SSI_ENABLE) = 1;
}

void flash_ask(const uint8_t *out, uint8_t out_length, uint8_t *in, uint8_t in_length)
{
    uint8_t whole = (uint8_t)(out_length + in_length), sent = 0, taken = 0;
    REGISTER(QSPI_SELECT_CTRL) = QSPI_SELECT_LOW;  // by hand: the controller would let go whenever it runs empty
    while (taken < whole) {
        if (sent < whole && sent - taken < IN_FLIGHT && (REGISTER(SSI_STATUS) & SSI_ROOM)) {
            REGISTER(SSI_DATA) = sent < out_length ? out[sent] : 0u;
            sent++;
        }
        if (REGISTER(SSI_STATUS) & SSI_HAS_BYTE) {
            uint8_t byte = (uint8_t)REGISTER(SSI_DATA);
            if (taken >= out_length && in) {
                in[taken - out_length] = byte;
            }
            taken++;
        }
    }
    REGISTER(QSPI_SELECT_CTRL) = QSPI_SELECT_HIGH;
}

void flash_allow_write(void)
{
    static const uint8_t command = WRITE_ENABLE;
    flash_ask(&command, 1, 0, 0);
}

uint8_t flash_busy(void)
{
    static const uint8_t command = READ_STATUS;
    uint8_t status;
    flash_ask(&command, 1, &status, 1);
    return status & BUSY_BIT;
}
