; Runs before the variables are set up: note why the chip started, silence a watchdog that is still armed from before
; the reset, paint the stack. What the memory held before it was painted is mixed into board_leftover: after power on it
; differs from chip to chip. Some bootloaders clear MCUSR and hand its value on in r2 (from memory, not read in a
; source); it is believed only when MCUSR is empty and r2 looks like one.
#include <avr/io.h>

#define __zero_reg__ r1

#define PAINT 0xC5
#define TOP (RAMEND + 1)

    .section .noinit, "aw", @nobits
    .global board_reset_bits
board_reset_bits:
    .skip 1
    .global board_leftover_bits
board_leftover_bits:
    .skip 4

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
    clr     r20
    clr     r21
    clr     r22
    clr     r23
2:  ld      r19, Z
    add     r20, r19
    adc     r21, __zero_reg__
    adc     r22, __zero_reg__
    adc     r23, __zero_reg__
    lsl     r20
    rol     r21
    rol     r22
    rol     r23
    adc     r20, __zero_reg__
    st      Z+, r24
    cpi     r30, lo8(TOP)
    cpc     r31, r25
    brlo    2b
    sts     board_leftover_bits, r20
    sts     board_leftover_bits + 1, r21
    sts     board_leftover_bits + 2, r22
    sts     board_leftover_bits + 3, r23
