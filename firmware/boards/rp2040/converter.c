// The analog converter: one conversion of 8 us begins every 104 us, the pace of the other boards.
#include "core/board.h"
#include "core/sampler.h"
#include "core/stream.h"
#include "parts.h"
#include "pins.h"
#include "registers.h"

enum { EVERY = 1248 };  // converter clocks

const uint32_t board_adc_clock_hz = CRYSTAL_HZ / 96;  // a conversion takes 96 clocks
const uint8_t board_adc_cycles = EVERY / 96;
_Static_assert(EVERY % 96 == 0, "the pace is whole conversions");

uint32_t board_adc_levels(void)
{
    return 4096;
}

uint16_t board_adc_accuracy(void)
{
    return 1200;  // twelve counts: bowing and the steps at four codes that the data sheet's errata tell of; from memory
}

// The supply is not measured: its input looks at the thermometer's pin, and the channel is not offered.
static const uint8_t select[INPUT_COUNT] = {
    [INPUT_PRESSURE] = ADC_PRESSURE,
    [INPUT_DIFFERENTIAL] = ADC_SECOND,
    [INPUT_THERMAL] = ADC_SECOND,
    [INPUT_TEMPERATURE] = ADC_TEMPERATURE,
    [INPUT_BANDGAP] = ADC_TEMPERATURE,
};

static void look_at(uint8_t input)
{
    REGISTER(ADC_CS) = ADC_ON | ADC_MANY | (uint32_t)select[input] << ADC_INPUT;
}

void converter_begin(void)
{
    for (uint8_t pin = FIRST_ANALOG_PIN; pin < FIRST_ANALOG_PIN + 3; pin++) {
        pin_begin(pin, FUNCTION_NONE, PAD_NO_OUTPUT);
    }
    REGISTER(ADC_CS) = ADC_ON;
    while (!(REGISTER(ADC_CS) & ADC_READY)) {
    }
    REGISTER(ADC_DIV) = (uint32_t)(EVERY - 1) << 8;
    REGISTER(ADC_FCS) = ADC_FIFO_ON | 1ul << 24;  // an interrupt for each conversion
    REGISTER(ADC_INTE) = 1;
    look_at(INPUT_PRESSURE);
}

void conversion_interrupt(void);

void conversion_interrupt(void)
{
    if (REGISTER(ADC_FCS) & ADC_FIFO_EMPTY) {
        return;
    }
    uint16_t value = (uint16_t)(REGISTER(ADC_FIFO) & 0xFFFu);
    look_at(stream_conversion(value, board_tick()));
    uart_turn();
    twi_turn();
}
