// All that a board must supply, on one screen. A second board is one folder beside boards/atmega328p.
//
// Everything here is called from the main loop only, never waits for the outside world, and is done within
// the time named. The other direction is two calls which the board makes from its interrupts:
//     stream_conversion(value, tick)   at the end of every free-running conversion; returns the input to select next
//     stream_edge(tick)                at every rotor edge
// What the core shares with those two it touches only between board_lock and board_unlock (core/stream.c, nowhere else).
#ifndef FROTHLINE_BOARD_H
#define FROTHLINE_BOARD_H

#include <stdbool.h>
#include <stdint.h>

// Clock, interrupts, life.
void board_begin(void);                   // pins, clock, converter, line, watchdog; interrupts on when it returns
uint32_t board_tick(void);                // WIRE_TICK_HZ, modulo 2^32, never goes back within a boot
uint8_t board_lock(void);                 // interrupts off; returns what board_unlock needs; held for under 20 us
void board_unlock(uint8_t was);
void board_rest(void);                    // sleeps until the next interrupt, which comes within one conversion
void board_feed_watchdog(void);           // or the board starts anew after about 1 s
uint8_t board_reset_cause(void);          // bits of enum reset_cause
uint16_t board_stack_free(void);          // bytes never touched so far; under 0.5 ms
uint32_t board_leftover(void);            // mixed from what the memory held before the start: after power on it differs
                                          // from chip to chip (common practice, no source); 0 where it cannot be read
void board_led(bool lit);
bool board_button_down(void);             // raw, bouncing

// Serial line: two rings drained and filled by interrupts.
bool board_send(const uint8_t *bytes, uint8_t length);  // the whole frame, or false and none of it
uint8_t board_send_room(void);            // bytes that board_send would take now, at most 255
bool board_receive(uint8_t *byte);        // false: nothing waiting
void board_take_received(void);           // called in the midst of long interrupts: the receiver may hold only 40 us

// Two-wire bus, one transfer at a time: write, then (repeated start) read. The memory stays the caller's and must
// live until poll says other than BUS_BUSY, which it does within 10 ms whatever the wires do.
enum bus_state { BUS_IDLE, BUS_BUSY, BUS_DONE, BUS_NO_ANSWER, BUS_FAILED };
bool board_bus_begin(uint8_t address, const uint8_t *out, uint8_t out_length, uint8_t *in, uint8_t in_length);
enum bus_state board_bus_poll(void);      // gives DONE, NO_ANSWER or FAILED once, then IDLE

// Load cell converter: two wires, clocked by hand.
bool board_scale_ready(void);             // data line low
bool board_scale_clock(void);             // one clock pulse, high for less than 50 us; the data line after its rise

// Storage: bytes that outlive a power cut. A write may take 4 ms; ready says when the next access is allowed.
bool board_storage_ready(void);
uint8_t board_storage_read(uint16_t address);
void board_storage_write(uint16_t address, uint8_t byte);

// What its interrupts counted since boot, modulo 2^16.
struct board_counts {
    uint16_t bus_errors;       // time-outs, lost arbitration, illegal conditions
    uint16_t bus_recoveries;   // times the bus was clocked free
    uint16_t receive_errors;   // frame errors, overruns, bytes that found the ring full
    uint16_t ring_high_water;  // most bytes ever waiting to be sent
};
struct board_counts board_counts(void);

// Constants it tells the host.
extern const uint8_t board_kind;          // enum board_kind
extern const uint32_t board_adc_clock_hz;
extern const uint8_t board_adc_cycles;    // converter clocks per free-running conversion
uint32_t board_adc_levels(void);          // full scale of the converter: 1024 for 10 bits, 4096 for 12
uint16_t board_adc_accuracy(void);        // limit of its static errors by the data sheet, in hundredths of a count
uint16_t board_channels(void);            // bit n: channel kind n can be measured here
uint8_t board_pressure_sensor(void);      // enum sensor_kind of a board as made: one that its supply suits
void board_pin(uint8_t channel_kind, char name[4]);  // padded with zero bytes

#endif
