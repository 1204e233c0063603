// A board whose image is executed instruction by instruction, with the parts that hang on its pins.
//
// One thread owns an emulator. Times are CPU cycles since power came on; they do not start anew with a reset.
// The host sets what the pins should see, lets it run to a cycle, and takes what was sent.
#ifndef FROTHLINE_EMULATOR_H
#define FROTHLINE_EMULATOR_H

#include <stddef.h>
#include <stdint.h>

#include "chip.h"

#define EMULATOR_API __attribute__((visibility("default")))

// As latched in MCUSR.
enum emulator_cause { EMULATOR_POWER_ON = 1, EMULATOR_EXTERNAL = 2, EMULATOR_BROWN_OUT = 4, EMULATOR_WATCHDOG = 8 };

enum emulator_state { EMULATOR_RUNS = 0, EMULATOR_STOPPED = 1, EMULATOR_CRASHED = 2 };

typedef struct emulator emulator;

// Loads an Intel hex image and powers up with empty (0xFF) storage. NULL when the image cannot be read.
// `noise_start` starts the converter's noise.
EMULATOR_API emulator *emulator_new(const char *image, uint64_t noise_start);
EMULATOR_API void emulator_free(emulator *e);

EMULATOR_API uint64_t emulator_cycle(const emulator *e);
EMULATOR_API int emulator_run(emulator *e, uint64_t until);  // enum emulator_state
EMULATOR_API void emulator_reset(emulator *e, int cause);
EMULATOR_API uint32_t emulator_resets(const emulator *e);    // by the watchdog, since power came on
EMULATOR_API uint32_t emulator_overruns(const emulator *e);  // bytes towards the board that its receiver had no room for
EMULATOR_API uint32_t emulator_complaints(const emulator *e);  // warnings and errors the simulator logged

// Upsets the chip: writes into its data space (registers 0x00 to 0xFF as the data sheet numbers them, then memory),
// past whatever the register would do. For tests of what happens after a disturbance.
EMULATOR_API void emulator_poke(emulator *e, uint16_t address, uint8_t value);
EMULATOR_API uint8_t emulator_peek(const emulator *e, uint16_t address);

// Power goes: a byte that was being written is left old, new, erased or in between, as `luck` (any number) decides.
// Power comes back at once; the storage keeps what it then has.
EMULATOR_API void emulator_cut_power(emulator *e, uint32_t luck);
EMULATOR_API int emulator_storage_busy(const emulator *e);   // whether a byte is being written now
EMULATOR_API void emulator_storage_get(emulator *e, uint8_t bytes[EMULATOR_STORAGE]);
EMULATOR_API void emulator_storage_set(emulator *e, const uint8_t bytes[EMULATOR_STORAGE]);

// Voltages as shares of the supply: from `from` now to `to` at cycle `until`, straight in between; `noise` in codes,
// standard deviation of one conversion. The code is that of the chip, floor(share * 1024).
EMULATOR_API void emulator_analog(emulator *e, const double from[EMULATOR_INPUTS], const double to[EMULATOR_INPUTS],
                                  uint64_t until, double noise);
EMULATOR_API void emulator_edges(emulator *e, const uint64_t *cycles, size_t count);  // falling edges of the rotor, in order
EMULATOR_API void emulator_button(emulator *e, int down);

// Ambient module: registers 0x88 to 0xA1, 0xE1 to 0xF0, and what a measurement started from now on will give.
EMULATOR_API void emulator_ambient(emulator *e, int present, const uint8_t low[26], const uint8_t high[16],
                                   const uint8_t burst[8]);
EMULATOR_API void emulator_scale(emulator *e, int present, int32_t counts, uint32_t per_second);

EMULATOR_API size_t emulator_give(emulator *e, const uint8_t *bytes, size_t count);  // to the board; what was taken
EMULATOR_API size_t emulator_take(emulator *e, uint8_t *bytes, size_t room);         // from the board

#endif
