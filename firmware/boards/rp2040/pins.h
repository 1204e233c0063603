// Which pin does what. GPn is the number that is printed on the board.
//
//   pin   what
//   GP0   TXD   to RX of a 3.3 V serial adapter
//   GP1   RXD   from TX of the adapter
//   GP2   push button to ground
//   GP3   rotor pulses, falling edge, open collector with pull-up to 3.3 V
//   GP4   SDA   ambient module at 3.3 V
//   GP5   SCL   ambient module
//   GP6   HX711 DOUT, the module at 3.3 V
//   GP7   HX711 SCK
//   GP25  LED
//   GP26  line pressure, ratiometric to 3.3 V
//   GP27  second pressure sensor or thermal anemometer: one of the two
//   GP28  NTC divider: 10 k to 3.3 V, NTC to ground
#ifndef FROTHLINE_PINS_H
#define FROTHLINE_PINS_H

enum {
    SEND_PIN = 0, RECEIVE_PIN = 1, BUTTON_PIN = 2, ROTOR_PIN = 3, SDA_PIN = 4, SCL_PIN = 5, SCALE_DATA_PIN = 6,
    SCALE_CLOCK_PIN = 7, LED_PIN = 25, FIRST_ANALOG_PIN = 26,
};

// Converter inputs: GP26 is 0.
enum { ADC_PRESSURE = 0, ADC_SECOND = 1, ADC_TEMPERATURE = 2 };

#endif
