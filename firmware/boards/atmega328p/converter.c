// The analog converter, free running at 16 MHz / 128 / 13 = 9615.4 conversions a second: the hardware is the pace.
#include <avr/interrupt.h>
#include <avr/io.h>

#include "core/board.h"
#include "core/sampler.h"
#include "core/stream.h"
#include "parts.h"
#include "pins.h"

const uint32_t board_adc_clock_hz = F_CPU / 128;
const uint8_t board_adc_cycles = 13;

uint32_t board_adc_levels(void)
{
    return 1024;
}

uint16_t board_adc_accuracy(void)
{
    return 200;  // data sheet, table "ADC Characteristics": absolute accuracy 2 LSB typical at 200 kHz
}

static const uint8_t select[INPUT_COUNT] = {
    [INPUT_PRESSURE] = ADMUX_REFERENCE | ADMUX_PRESSURE,
    [INPUT_DIFFERENTIAL] = ADMUX_REFERENCE | ADMUX_DIFFERENTIAL,
    [INPUT_THERMAL] = ADMUX_REFERENCE | ADMUX_THERMAL,
    [INPUT_TEMPERATURE] = ADMUX_REFERENCE | ADMUX_TEMPERATURE,
    [INPUT_BANDGAP] = ADMUX_REFERENCE | ADMUX_BANDGAP,
};

void converter_begin(void)
{
    DIDR0 = ANALOG_PINS;  // no digital input buffers on them
    ADMUX = select[INPUT_PRESSURE];
    ADCSRB = 0;  // free running
    ADCSRA = (1u << ADEN) | (1u << ADSC) | (1u << ADATE) | (1u << ADIE) | 7u;  // clock / 128
}

ISR(ADC_vect)
{
    uint16_t value = ADC;  // before the input is changed
    ADMUX = select[stream_conversion(value, clock_now())];
    board_take_received();
}
