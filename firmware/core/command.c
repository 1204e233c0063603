#include "core/command.h"

#include <string.h>

#include "core/board.h"
#include "core/frame.h"
#include "core/linear.h"
#include "core/messages.h"
#include "core/outbox.h"
#include "core/sampler.h"
#include "core/state.h"
#include "core/stream.h"

// A command is taken only when its answers surely fit; until then the received bytes wait in their ring.
enum { ROOM_FOR_ANSWERS = sizeof(struct msg_ack) + FRAME_OVERHEAD + sizeof(struct msg_settings) + FRAME_OVERHEAD };
_Static_assert(ROOM_FOR_ANSWERS <= (int)OUTBOX_RESERVE, "answers get through while the stream fills the ring");

enum { COMMAND_FIRST = 0x40, COMMAND_LAST = 0x5F };

static struct frame_collector collector;

static void acknowledge(uint8_t command, uint16_t sequence, uint8_t result)
{
    struct msg_ack *message = outbox_message(MSG_ACK, sizeof *message);
    message->command = command;
    message->command_sequence = sequence;
    message->result = result;
    outbox_send();
}

static void send_settings(void)
{
    const struct settings *settings = &rig.settings;
    struct msg_settings *message = outbox_message(MSG_SETTINGS, sizeof *message);
    memcpy(message->label, settings->label, sizeof message->label);
    message->rate = settings->rate;
    message->enabled = settings->enabled;
    message->pressure_sensor = settings->pressure_sensor;
    message->differential_sensor = settings->differential_sensor;
    message->anemometer = settings->anemometer;
    message->temperature_sensor = settings->temperature_sensor;
    message->generation = rig.settings_record.sequence;
    outbox_send();
}

static uint8_t set_rate(const struct msg_set_rate *command)
{
    if (command->rate < SAMPLER_RATE_LEAST || command->rate > SAMPLER_RATE_MOST) {
        return ACK_RESULT_BAD_VALUE;
    }
    stream_set_rate(command->rate);
    return ACK_RESULT_OK;
}

static bool writing(void)
{
    return rig.settings_record.writing || rig.linear_record.writing;
}

static uint8_t write_settings(const struct msg_write_settings *command)
{
    if (writing()) {
        return ACK_RESULT_BUSY;
    }
    struct settings *wanted = &rig.to_write.settings;
    wanted->format = SETTINGS_FORMAT;
    memcpy(wanted->label, command->label, sizeof wanted->label);
    wanted->rate = command->rate;
    wanted->enabled = command->enabled;
    wanted->pressure_sensor = command->pressure_sensor;
    wanted->differential_sensor = command->differential_sensor;
    wanted->anemometer = command->anemometer;
    wanted->temperature_sensor = command->temperature_sensor;
    if (!settings_valid(wanted)) {
        return ACK_RESULT_BAD_VALUE;
    }
    record_write(&rig.settings_record, wanted);
    rig.write_command = command->id;
    rig.write_sequence = command->sequence;
    return ACK_RESULT_OK;
}

static uint8_t write_linear_sensor(const struct msg_write_linear_sensor *command)
{
    if (writing()) {
        return ACK_RESULT_BUSY;
    }
    rig.to_write.linear = rig.linear;
    struct linear_line *line = linear_of(&rig.to_write.linear, command->kind);
    if (!line) {
        return ACK_RESULT_BAD_VALUE;
    }
    line->low_pascal = command->low_pascal;
    line->high_pascal = command->high_pascal;
    line->low_millivolt = command->low_millivolt;
    line->high_millivolt = command->high_millivolt;
    line->accuracy_per_myriad = command->accuracy_per_myriad;
    if (!linear_valid(line)) {
        return ACK_RESULT_BAD_VALUE;
    }
    record_write(&rig.linear_record, &rig.to_write.linear);
    rig.write_command = command->id;
    rig.write_sequence = command->sequence;
    return ACK_RESULT_OK;
}

// The size of a command, 0 when it is unknown. Longer is allowed: a newer host has appended fields.
static uint8_t size_of(uint8_t id)
{
    switch (id) {
    case MSG_DESCRIBE:
    case MSG_START:
    case MSG_STOP:
    case MSG_READ_SETTINGS:
        return WIRE_HEADER_SIZE;
    case MSG_SET_RATE:
        return sizeof(struct msg_set_rate);
    case MSG_WRITE_SETTINGS:
        return sizeof(struct msg_write_settings);
    case MSG_WRITE_LINEAR_SENSOR:
        return sizeof(struct msg_write_linear_sensor);
    default:
        return 0;
    }
}

static void obey(uint8_t length)
{
    const struct msg_describe *header = (const void *)collector.bytes;
    uint8_t id = header->id;
    uint8_t size = size_of(id);
    uint8_t result = ACK_RESULT_OK;
    if (id < COMMAND_FIRST || id > COMMAND_LAST) {
        rig.receive_errors++;  // no command at all, our own echo perhaps: an answer could go round for ever
        return;
    }
    if (size == 0) {
        result = ACK_RESULT_UNKNOWN_COMMAND;
    } else if (length < size) {
        result = ACK_RESULT_BAD_LENGTH;
    } else if (id == MSG_SET_RATE) {
        result = set_rate((const void *)collector.bytes);
    } else if (id == MSG_WRITE_SETTINGS) {
        result = write_settings((const void *)collector.bytes);
        if (result == ACK_RESULT_OK) {
            return;  // answered when it is stored
        }
    } else if (id == MSG_WRITE_LINEAR_SENSOR) {
        result = write_linear_sensor((const void *)collector.bytes);
        if (result == ACK_RESULT_OK) {
            return;  // answered when it is stored
        }
    } else if (id == MSG_START) {
        stream_start();
    } else if (id == MSG_STOP) {
        stream_stop();
    }
    acknowledge(id, header->sequence, result);
    if (result != ACK_RESULT_OK) {
        return;
    }
    if (id == MSG_READ_SETTINGS) {
        send_settings();
    } else {
        rig.describe_request = true;  // the command requested or changed it
    }
}

void command_turn(void)
{
    if (board_send_room() < ROOM_FOR_ANSWERS) {
        return;
    }
    uint8_t byte;
    while (board_receive(&byte)) {
        int8_t length = frame_collect(&collector, byte);
        if (length == FRAME_DAMAGED) {
            rig.receive_errors++;
        } else if (length != FRAME_PENDING) {
            obey((uint8_t)length);
            return;
        }
    }
}

void command_storage_turn(void)
{
    if (!writing() || board_send_room() < ROOM_FOR_ANSWERS) {
        return;
    }
    bool lines = rig.linear_record.writing;
    enum record_result result = record_step(lines ? &rig.linear_record : &rig.settings_record);
    if (result == RECORD_DONE) {
        if (lines) {
            rig.linear = rig.to_write.linear;
        } else {
            stream_apply_settings(&rig.to_write.settings);
        }
        acknowledge(rig.write_command, rig.write_sequence, ACK_RESULT_OK);
        if (!lines) {
            send_settings();
        }
        rig.describe_request = true;
    } else if (result == RECORD_FAILED) {
        acknowledge(rig.write_command, rig.write_sequence, ACK_RESULT_STORAGE_FAILED);
    }
}
