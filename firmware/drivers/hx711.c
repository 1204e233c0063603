#include "drivers/hx711.h"

#include "core/board.h"

void hx711_begin(struct hx711 *chip, uint32_t now)
{
    *chip = (struct hx711){.heard = now, .ask = now};
}

static bool silent(struct hx711 *chip, uint32_t now)
{
    if (now - chip->heard < HX711_SILENT_TICKS) {
        return false;
    }
    chip->present = false;
    chip->flags = 0;
    chip->counts = 0;
    chip->heard = now;
    return true;
}

bool hx711_turn(struct hx711 *chip, uint32_t now)
{
    if (tick_waits(now, chip->ask, HX711_RETRY_TICKS) || !board_scale_ready()) {
        return silent(chip, now);
    }
    uint32_t raw = 0;
    for (uint8_t i = 0; i < 24; i++) {
        raw = raw << 1 | board_scale_clock();
    }
    board_scale_clock();  // the 25th chooses channel A, gain 128, for the next conversion, and lifts the data line
    if (board_scale_ready()) {
        chip->ask = now + HX711_RETRY_TICKS;  // still low: held by something that is no converter
        return silent(chip, now);
    }
    chip->ask = now + TICKS_PER_MS;
    chip->present = true;
    chip->heard = now;
    chip->counts = hx711_sign_extend(raw);
    chip->flags = DEVICE_FLAG_PRESENT | DEVICE_FLAG_FRESH;
    if (raw == 0x7FFFFFul || raw == 0x800000ul) {
        chip->flags |= DEVICE_FLAG_SATURATED;
    }
    return true;
}
