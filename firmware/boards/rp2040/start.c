// From the boot stage to main: variables, a painted stack, interrupts' table. The program runs from RAM; the flash is free.
#include <stdint.h>

#include "registers.h"

extern uint32_t _bss_start[], _bss_end[], _stack_low[], _stack_painted[], _stack_top[];  // rp2040.ld
int main(void);
void reset(void);
void conversion_interrupt(void);
void pin_interrupt(void);

uint32_t board_leftover_bits;  // not cleared below: mixed before anything is written

static void hang(void)  // the watchdog ends it
{
    for (;;) {
    }
}

__attribute__((section(".vectors"), used)) static void (*const vectors[16 + 32])(void) = {
    (void (*)(void))_stack_top,
    reset,
    hang,
    hang,
    [11] = hang,
    [14] = hang,
    [15] = hang,
    [16 + IRQ_PINS] = pin_interrupt,
    [16 + IRQ_ADC] = conversion_interrupt,
};

static uintptr_t place_of(const uint32_t *label)
{
    return (uintptr_t)label;
}

void reset(void)
{
    uint32_t mixed = 0;
    for (uintptr_t at = place_of(_bss_end); at < place_of(_bss_end) + 1024; at += 4) {
        mixed = (mixed << 5 | mixed >> 27) ^ REGISTER(at);
    }
    for (uintptr_t at = place_of(_bss_start); at < place_of(_bss_end); at += 4) {
        REGISTER(at) = 0;
    }
    for (uintptr_t at = place_of(_stack_low); at < place_of(_stack_painted); at += 4) {
        REGISTER(at) = 0xC5C5C5C5ul;
    }
    board_leftover_bits = mixed;
    REGISTER(VECTOR_TABLE) = (uint32_t)(uintptr_t)vectors;
    main();
}
