// Facts of the emulated chip that the host and the parts share. Without the simulator's headers.
#ifndef FROTHLINE_EMULATOR_CHIP_H
#define FROTHLINE_EMULATOR_CHIP_H

enum { EMULATOR_FREQUENCY = 16000000, EMULATOR_STORAGE = 1024 };

// Converter inputs, in the order of the arrays of emulator_analog.
enum emulator_input {
    EMULATOR_PRESSURE,      // ADC0
    EMULATOR_THERMAL,       // ADC1
    EMULATOR_TEMPERATURE,   // ADC2
    EMULATOR_DIFFERENTIAL,  // ADC3
    EMULATOR_BANDGAP,       // inside the chip
    EMULATOR_INPUTS
};

#endif
