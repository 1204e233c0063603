"""Single channels against data sheets: counts in, SI out."""

import numpy as np
import pytest
import sensor_boards as boards
from bosch_pressure import pressure_int64

from frothline.sensors import ambient, analog, load_cell
from frothline.sensors.datasheets import AMBIENT, HX711, NTC, PRESSURE
from frothline.sensors.series import Status
from frothline.sensors.spool import Spool
from frothline.wire import ENUMS

SENSOR = ENUMS["sensor_kind"]
TRIMMING = ambient.Trimming.from_registers(boards.LOW, boards.HIGH)


def test_the_worked_example_of_the_ambient_modules_data_sheet():
    """Bosch BMP280 data sheet, section 3.12: 519888 and 415148 give 25.08 °C and 100653.27 Pa."""
    raw = ambient.unpack(np.frombuffer(boards.EXAMPLE_BURST, "u1"))
    assert (int(raw.temperature[0]), int(raw.pressure[0])) == (519888, 415148)
    fine = ambient.fine_temperature(raw.temperature, TRIMMING)
    assert round(fine[0] / 5120, 2) == 25.08
    assert fine[0] == pytest.approx(128422.2870, abs=1e-4)
    assert ambient.pressure(raw.pressure, fine, TRIMMING)[0] == pytest.approx(100653.27, abs=0.005)


def test_the_64_bit_form_of_the_data_sheet_gives_25767233():
    """The figure in the sheet's table, 25767236, is the floating-point result x 256; the printed code gives ...233."""
    assert pressure_int64(415148, 128422, TRIMMING) == 25767233


@pytest.mark.parametrize(("raw", "integer_form"), [(20000, 0.0), (25000, 20.7783), (30000, 48.7520), (32768, 64.1396)])
def test_humidity_in_double_precision_follows_the_data_sheets_integer_form(raw, integer_form):
    """The 32 bit form of the data sheet, run apart from this code; the two may differ by 0.004 %RH."""
    fine = np.array([128422.0])
    assert 100 * ambient.humidity(np.array([raw]), fine, TRIMMING)[0] == pytest.approx(integer_form, abs=0.004)


def test_trimming_nibbles_of_h4_and_h5_are_put_together_with_their_sign():
    """BME280 data sheet, table 16: H4 = E4<<4 | E5[3:0], H5 = E6<<4 | E5[7:4], both signed."""
    high = bytes([0, 0, 0, 0xFF, 0x2E, 0x80, 0xFE]) + bytes(9)
    h = ambient.Trimming.from_registers(boards.LOW, high).h
    assert h[3] == -16 + 0x0E
    assert h[4] == -2048 + 0x2
    assert h[5] == -2


def test_a_register_at_its_reset_value_is_not_a_reading():
    burst = np.frombuffer(bytes.fromhex("800000 7EED00 8000"), "u1").reshape(1, 8)
    module = AMBIENT[SENSOR["bme280"]]
    found = ambient.readings(burst, np.array([3], "u1"), TRIMMING, module)
    assert np.isnan(found["ambient_pressure"].value[0])
    assert np.isnan(found["ambient_humidity"].value[0])
    assert found["ambient_temperature"].value[0] == pytest.approx(298.23, abs=0.01)


@pytest.mark.parametrize(
    ("part", "code", "pascal"),
    [("mpx5050", 502, 25013), ("mpx5050", 41, 2), ("mpxv7025", 512, 0), ("mpxv7025", 973, 25011), ("mpxv7007", 512, 0)],
)
def test_pressure_codes_of_the_transfer_functions(part, code, pascal):
    """P = (N/1024 - c)/k of the NXP sheets, reckoned by hand to the pascal."""
    n = np.array([32])
    reading = analog.pressure(analog.ratio(np.array([code * 32]), n), PRESSURE[SENSOR[part]])
    assert reading.value[0] == pytest.approx(pascal, abs=1.0)


def test_the_mpx5050_table_is_met_at_zero_and_full_scale():
    """NXP MPX5050 rev 5: offset 0.20 V and full scale 4.70 V at 5 V."""
    for volts, pascal in ((0.20, 0.0), (4.70, 50e3)):
        pin = analog.ratio(np.array([volts / 5 * 1024 * 64]), np.array([64]))
        assert analog.pressure(pin, PRESSURE[SENSOR["mpx5050"]]).value[0] == pytest.approx(pascal, abs=1e-6)


def test_the_data_sheet_band_is_the_uncertainty_before_any_zero_or_calibration():
    """+-2.5 % of 50 kPa as a rectangle: 722 Pa; the offset limits of the sheet, 0.088 to 0.313 V, say the same."""
    pin = analog.ratio(np.array([0.2 * 1024 * 32]), np.array([32]))
    reading = analog.pressure(pin, PRESSURE[SENSOR["mpx5050"]])
    assert reading.u_systematic[0] == pytest.approx(1250 / np.sqrt(3), rel=0.01)
    assert pytest.approx(1250, rel=0.01) == (0.313 - 0.088) / 2 / 5 / 0.018e-3


def test_a_zero_takes_the_offset_away_and_leaves_what_grows_with_pressure():
    zero = 0.0431
    sensor = PRESSURE[SENSOR["mpx5050"]]
    pins = analog.ratio(np.array([zero, zero + 0.36]) * 1024 * 32, np.array([32, 32]))
    reading = analog.pressure(pins, sensor, zero=zero)
    assert reading.value == pytest.approx([0.0, 20e3], abs=0.01)
    assert reading.u_systematic[0] < 80  # two codes of the converter, 63 Pa, and the hold of the zero
    assert reading.u_systematic[1] == pytest.approx(1250 * np.sqrt(2 / 3) * 0.4, rel=0.05)


@pytest.mark.parametrize(("share", "status"), [(0.0, Status.MISSING), (1023 / 1024, Status.SATURATED)])
def test_a_pin_at_its_end_gives_no_pressure(share, status):
    pin = analog.ratio(np.array([share * 1024 * 32]), np.array([32]))
    reading = analog.pressure(pin, PRESSURE[SENSOR["mpx5050"]])
    assert np.isnan(reading.value[0])
    assert reading.status[0] & status


def test_no_conversions_is_missing_not_zero():
    reading = analog.pressure(analog.ratio(np.array([0]), np.array([0])), PRESSURE[SENSOR["mpx5050"]])
    assert np.isnan(reading.value[0])
    assert reading.status[0] & Status.MISSING


def test_the_thermistor_of_the_makers_worked_example():
    """Vishay document 29049: the 10 kohm part reads 32.56 kohm at 0 °C; the interchange of forms is good to 0.015 K."""
    ntc = NTC[SENSOR["ntc_10k_3977"]]
    assert analog.ntc_temperature(32560.0, ntc) == pytest.approx(273.15, abs=0.015)
    # The one-parameter law is 0.8 K off there, which is what the budget of the other parts allows for.
    one = NTC[SENSOR["ntc_10k_3950"]]
    off = abs(1 / (1 / 298.15 + np.log(3.256) / 3977) - 273.15)
    assert 0.7 < off <= one.model


@pytest.mark.parametrize(("celsius", "ohm"), [(-10, 58246), (0, 33621), (25, 10000), (50, 3588), (85, 1087)])
def test_the_beta_law_of_the_common_part(celsius, ohm):
    """B 3950, 10 kohm: R = 10k exp(B (1/T - 1/298.15)), tabulated to the ohm apart from this code."""
    assert analog.ntc_temperature(float(ohm), NTC[SENSOR["ntc_10k_3950"]]) == pytest.approx(celsius + 273.15, abs=0.02)


def test_half_the_supply_at_the_thermistor_is_25_degrees():
    pin = analog.ratio(np.array([512 * 32]), np.array([32]))
    reading = analog.line_temperature(pin, NTC[SENSOR["ntc_10k_3950"]])
    assert reading.value[0] == pytest.approx(298.15, abs=1e-9)
    assert 0.3 < reading.u[0] < 0.8


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_an_open_or_shorted_thermistor_is_missing(share):
    reading = analog.line_temperature(analog.ratio(np.array([share * 1023 * 32]), np.array([32])), NTC[32])
    assert np.isnan(reading.value[0])
    assert reading.status[0] == Status.MISSING


def test_the_supply_from_the_bandgap():
    """ATmega328P: Vcc = 1.1 x 1024/N, N = 225 at 5.00 V; 1.0 to 1.2 V of the bandgap are 5.2 % of standard uncertainty."""
    reading = analog.supply(analog.ratio(np.array([225 * 32]), np.array([32])))
    assert reading.value[0] == pytest.approx(5.006, abs=0.001)
    assert reading.u_systematic[0] / reading.value[0] == pytest.approx(0.1 / 1.1 / np.sqrt(3), rel=1e-6)


def test_one_millivolt_per_volt_is_2097152_counts():
    """Avia HX711: +-20 mV is full scale at gain 128 and 5 V, so 1 mV/V (5 mV) is a quarter of 2^23."""
    spool = Spool.default()
    per_kg = load_cell.counts_per_kilogram(spool.scale)
    assert per_kg * spool.scale.capacity == pytest.approx(2 * 2097152, rel=1e-12)


@pytest.mark.parametrize("counts", [0x7FFFFF, -0x800000])
def test_the_ends_of_the_load_cell_converter_are_saturated(counts):
    reading = load_cell.mass(np.array([counts]), np.array([3], "u1"), Spool.for_board("simulated 1").scale)
    assert reading.status[0] & Status.SATURATED
    assert np.isnan(reading.value[0])


def test_an_absent_scale_is_missing():
    reading = load_cell.mass(np.array([0x7FFFFF]), np.array([0], "u1"), Spool.default().scale)
    assert reading.status[0] == Status.MISSING


def test_the_noise_of_the_load_cell_converter_in_kilograms():
    """90 nV of the 10 mV that 2 mV/V give at 5 V, over 50 kg: 0.45 g."""
    reading = load_cell.mass(np.array([80000]), np.array([3], "u1"), Spool.for_board("simulated 1").scale)
    assert HX711.noise / (5 * 2e-3) * 50 == pytest.approx(0.00045)
    assert reading.u_random[0] == pytest.approx(0.00045, rel=1e-6)
