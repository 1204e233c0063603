#include "core/state.h"

#include <string.h>

#include "core/identity.h"
#include "core/messages.h"

struct rig_state rig;

bool state_begin(void)
{
    memset(&rig, 0, sizeof rig);
    rig.ambient_sensor = SENSOR_KIND_BME280;  // until another is found
    struct record *record = &rig.settings_record;
    record->slot[0] = STORAGE_SETTINGS_A;
    record->slot[1] = STORAGE_SETTINGS_B;
    record->size = sizeof(struct settings);
    bool found = record_load(record, &rig.settings) && settings_valid(&rig.settings);
    if (!found) {
        settings_default(&rig.settings, 0);
    }
    struct record *lines = &rig.linear_record;
    lines->slot[0] = STORAGE_LINEAR_A;
    lines->slot[1] = STORAGE_LINEAR_B;
    lines->size = sizeof(struct linear_lines);
    record_load(lines, &rig.linear);  // zeros when none are stored: the host then says that the range is not set
    rig.rate = rig.settings.rate;
    rig.channels = settings_channels(&rig.settings);
    return found;
}

// The count is stored before it is sent, or two boots could have one number. A storage that fails costs the count only.
static void count_boot(void)
{
    struct record record = {.slot = {STORAGE_BOOTS_A, STORAGE_BOOTS_B}, .size = sizeof rig.boot_count};
    uint32_t boots = 0;
    record_load(&record, &boots);
    rig.boot_count = boots + 1;
    record_write_now(&record, &rig.boot_count);
}

void state_identify(bool settings_found)
{
    rig.identity = identity_load();
    if (!settings_found) {
        settings_default(&rig.settings, rig.identity);
    }
    count_boot();
}

bool state_measures(uint8_t channel_kind)
{
    return rig.channels & CHANNEL_BIT(channel_kind);
}

// The ambient module and the scale can be seen to answer. The other channels are taken as present when they are enabled.
bool state_update_present(void)
{
    uint16_t seen = CHANNEL_BIT(CHANNEL_KIND_AMBIENT) | CHANNEL_BIT(CHANNEL_KIND_SCALE);
    uint16_t present = rig.channels & (uint16_t)(rig.answering | ~seen);
    bool changed = present != rig.present;
    rig.present = present;
    return changed;
}
