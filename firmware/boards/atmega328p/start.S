; Runs before the variables are set up: note why the chip started, silence a watchdog that is still armed from before
; the reset, paint the stack. Some bootloaders clear MCUSR and hand its value on in r2 (from memory, not read in a
; source); it is believed only when MCUSR is empty and r2 looks like one.
#include <avr/io.h>

#define __zero_reg__ r1

#define PAINT 0xC5
#define TOP (RAMEND + 1)

    .section .noinit, "aw", @nobits
    .global board_reset_bits
board_reset_bits:
    .skip 1

    .section .init3, "ax", @progbits
    in      r24, _SFR_IO_ADDR(MCUSR)
    out     _SFR_IO_ADDR(MCUSR), __zero_reg__
    cpse    r24, __zero_reg__
    rjmp    1f
    mov     r24, r2
    cpi     r24, 16
    brlo    1f
    clr     r24
1:  andi    r24, 15
    sts     board_reset_bits, r24
    wdr
    lds     r24, WDTCSR
    ori     r24, (1 << WDCE) | (1 << WDE)
    sts     WDTCSR, r24
    sts     WDTCSR, __zero_reg__
    ldi     r30, lo8(_end)
    ldi     r31, hi8(_end)
    ldi     r24, PAINT
    ldi     r25, hi8(TOP)
2:  st      Z+, r24
    cpi     r30, lo8(TOP)
    cpc     r31, r25
    brlo    2b
