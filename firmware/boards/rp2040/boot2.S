// Second stage of the start: the chip's ROM copies these 256 bytes from the flash to RAM, checks their CRC, and runs them.
// They set the flash interface to plain serial reading (command 03h, which every such chip has), copy the program to RAM,
// and start it. RP2040 data sheet, sections 2.8.1 and 4.10.
    .syntax unified
    .cpu cortex-m0plus
    .thumb
    .section .boot2, "ax"
    .global boot2
    .thumb_func
boot2:
    ldr r3, =0x18000000
    movs r1, #0
    str r1, [r3, #0x08]         // interface off while it is changed
    movs r1, #4
    str r1, [r3, #0x14]         // a quarter of the clock
    ldr r1, =((31 << 16) | (3 << 8))
    str r1, [r3, #0x00]         // words of 32 bits, "EEPROM read"
    movs r1, #0
    str r1, [r3, #0x04]         // one word for each read
    ldr r1, =((0x03 << 24) | (2 << 8) | (6 << 2))
    ldr r0, =0x180000F4
    str r1, [r0]                // command of 8 bits, address of 24 bits, one wire
    movs r1, #1
    str r1, [r3, #0x10]
    str r1, [r3, #0x08]
    ldr r0, =0x10000100
    ldr r1, =_program_start
    ldr r2, =_data_end
1:  cmp r1, r2
    bhs 2f
    ldmia r0!, {r3}
    stmia r1!, {r3}
    b 1b
2:  ldr r0, =_program_start
    ldr r1, [r0]
    msr msp, r1
    ldr r0, [r0, #4]
    bx r0
    .ltorg
