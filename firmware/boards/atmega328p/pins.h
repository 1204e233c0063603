// Which pin does what. The truth for the wiring pages, the simulated board and this folder.
//
//   pin  board  what
//   PC0  A0     line pressure, ratiometric              (750 ohm + 0.33 uF at the pin)
//   PC1  A1     thermal anemometer, volts
//   PC2  A2     NTC divider: 10 k to AVCC, NTC to ground
//   PC3  A3     differential pressure, ratiometric
//   PC4  A4     SDA   ambient module
//   PC5  A5     SCL   ambient module
//   PB0  D8     ICP1  rotor pulses, falling edge, open collector with pull-up
//   PD2  D2     push button to ground
//   PD4  D4     HX711 DOUT
//   PD5  D5     HX711 SCK
//   PB5  D13    LED
//   PD0  D0     RXD   to the USB bridge
//   PD1  D1     TXD   to the USB bridge
#ifndef FROTHLINE_PINS_H
#define FROTHLINE_PINS_H

#include <avr/io.h>

// Converter inputs (MUX3..0) in the order of enum input.
#define ADMUX_PRESSURE 0u
#define ADMUX_DIFFERENTIAL 3u
#define ADMUX_THERMAL 1u
#define ADMUX_TEMPERATURE 2u
#define ADMUX_BANDGAP 14u
#define ADMUX_REFERENCE (1u << REFS0)  // AVCC, as the ratiometric sensors need it

#define ANALOG_PINS ((1u << PC0) | (1u << PC1) | (1u << PC2) | (1u << PC3))

#define SDA_PIN PC4
#define SCL_PIN PC5
#define ROTOR_PIN PB0
#define LED_PIN PB5
#define BUTTON_PIN PD2
#define SCALE_DATA_PIN PD4
#define SCALE_CLOCK_PIN PD5

#define UNUSED_B ((1u << PB1) | (1u << PB2) | (1u << PB3) | (1u << PB4))
#define UNUSED_D ((1u << PD3) | (1u << PD6) | (1u << PD7))

#endif
