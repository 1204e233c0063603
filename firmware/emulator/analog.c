// Converter inputs: every conversion sees a fresh voltage.
//
// The simulator takes millivolts and multiplies by 1023, the chip multiplies by 1024 (data sheet 24.7); so the code
// that the chip would give is worked out here, and the millivolts that make the simulator give it are presented.
// It also reads the input that is selected when the result is fetched, not the one selected when the conversion
// began; firmware throws away the conversions after a change in either case.
#include "analog.h"

#include <math.h>

enum { REFERENCE_MILLIVOLTS = 5000, BANDGAP_MUX = 14 };

static const int input_of_channel[4] = {
    EMULATOR_PRESSURE, EMULATOR_THERMAL, EMULATOR_TEMPERATURE, EMULATOR_DIFFERENTIAL,
};

// Near enough to a normal distribution: the sum of four even ones (xorshift64*, Vigna 2016).
static double normal(struct analog *analog)
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++) {
        uint64_t x = analog->random;
        x ^= x >> 12;
        x ^= x << 25;
        x ^= x >> 27;
        analog->random = x;
        sum += (double)((x * 0x2545F4914F6CDD1Dull) >> 11) * 0x1p-53;
    }
    return (sum - 2.0) * 1.7320508075688772;
}

static uint32_t millivolts(struct emulator *e, int input)
{
    struct analog *analog = &e->analog;
    avr_cycle_count_t now = e->avr->cycle < analog->end ? e->avr->cycle : analog->end;
    double share = analog->from[input] + analog->slope[input] * (double)(now - analog->start);
    double code = floor(share * 1024.0 + analog->noise * normal(analog));
    uint32_t wanted = code < 0.0 ? 0 : code > 1023.0 ? 1023 : (uint32_t)code;
    return (wanted * REFERENCE_MILLIVOLTS + 1022) / 1023;
}

static void on_start(struct avr_irq_t *irq, uint32_t value, void *param)
{
    struct emulator *e = param;
    union {
        avr_adc_mux_t mux;
        uint32_t v;
    } what = {.v = value};
    if (what.mux.kind == ADC_MUX_SINGLE && what.mux.src < 4) {
        int input = input_of_channel[what.mux.src];
        avr_raise_irq(e->analog.converter->io.irq + ADC_IRQ_ADC0 + what.mux.src, millivolts(e, input));
    } else if (what.mux.kind == ADC_MUX_REF && e->analog.converter->muxmode[BANDGAP_MUX].kind == ADC_MUX_REF) {
        e->analog.converter->muxmode[BANDGAP_MUX].src = millivolts(e, EMULATOR_BANDGAP);
    }
}

void analog_begin(struct emulator *e)
{
    e->avr->vcc = e->avr->avcc = e->avr->aref = REFERENCE_MILLIVOLTS;
    for (avr_io_t *io = e->avr->io_port; io; io = io->next) {
        if (io->kind[0] == 'a' && io->kind[1] == 'd' && io->kind[2] == 'c') {
            e->analog.converter = (avr_adc_t *)io;
        }
    }
    avr_irq_register_notify(avr_io_getirq(e->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), on_start, e);
}

void analog_set(struct emulator *e, const double from[EMULATOR_INPUTS], const double to[EMULATOR_INPUTS], uint64_t until,
                     double noise)
{
    struct analog *analog = &e->analog;
    analog->start = e->avr->cycle;
    analog->end = until > analog->start ? until : analog->start + 1;
    analog->noise = noise;
    for (int i = 0; i < EMULATOR_INPUTS; i++) {
        analog->from[i] = from[i];
        analog->slope[i] = (to[i] - from[i]) / (double)(analog->end - analog->start);
    }
}
