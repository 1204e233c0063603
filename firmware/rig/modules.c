#include "rig/modules.h"

#include <string.h>

#include "core/messages.h"
#include "core/outbox.h"
#include "core/state.h"
#include "drivers/bme280.h"
#include "drivers/hx711.h"

static struct bme280 ambient;
static struct hx711 scale;

void modules_begin(uint32_t now)
{
    bme280_begin(&ambient, now);
    hx711_begin(&scale, now);
}

// A module that came, went or was exchanged for one of another kind changes the description.
static void update_state(void)
{
    uint8_t sensor = ambient.present && ambient.chip_id == BMP280_CHIP ? SENSOR_KIND_BMP280 : SENSOR_KIND_BME280;
    rig.answering = (ambient.present ? CHANNEL_BIT(CHANNEL_KIND_AMBIENT) : 0)
        | (scale.present ? CHANNEL_BIT(CHANNEL_KIND_SCALE) : 0);
    bool changed = state_update_present();
    if (changed || sensor != rig.ambient_sensor) {
        rig.ambient_sensor = sensor;
        rig.describe_request = true;
    }
}

void modules_ambient_turn(uint32_t now)
{
    if (!state_measures(CHANNEL_KIND_AMBIENT)) {
        return;
    }
    bool news = bme280_turn(&ambient, now);
    update_state();
    if (news && rig.streaming) {
        struct msg_ambient *message = outbox_message(MSG_AMBIENT, sizeof *message);
        message->tick = now;
        memcpy(message->burst, ambient.burst, sizeof message->burst);
        message->flags = ambient.flags;
        outbox_send_stream();
    }
}

void modules_scale_turn(uint32_t now)
{
    if (!state_measures(CHANNEL_KIND_SCALE)) {
        return;
    }
    bool news = hx711_turn(&scale, now);
    update_state();
    if (news && rig.streaming) {
        struct msg_scale *message = outbox_message(MSG_SCALE, sizeof *message);
        message->tick = now;
        message->counts = scale.counts;
        message->flags = scale.flags;
        outbox_send_stream();
    }
}

bool modules_probed(void)
{
    return ambient.probed;
}

uint16_t modules_losses(void)
{
    return ambient.losses;
}

void modules_send_trimming(void)
{
    struct msg_trimming *message = outbox_message(MSG_TRIMMING, sizeof *message);
    message->address = ambient.address;
    message->chip_id = ambient.chip_id;
    memcpy(message->low, ambient.low, sizeof message->low);
    memcpy(message->high, ambient.high, sizeof message->high);
    outbox_send();
}
