"""Simulated sensors: pin voltages, rotor edges and converter counts from the true state, with sensor errors.

Figures are from data sheets, written here apart from the host's converters; the errors of one rig are drawn once from
its random number, inside the data sheet's band. Sources:

- pressure: NXP MPX5050 (rev 11): V = Vs (0.018 P + 0.04), P in kPa; offset 0.088 to 0.313 V, full scale 4.587 to
  4.813 V at 5 V; all errors together within 2.5 % of the 4.5 V span; response 1 ms. NXP AN1646: 4 to 5 counts of
  noise at 10 bit.
- differential: NXP MPXV7007 (rev 3): V = Vs (0.057 P + 0.5), all errors within 5 % of the 14 kPa span; a sensor that
  is zeroed now and then, as this one is, keeps within a sixth of that.
- temperature: NTC 10 kOhm at 25 degrees, B 3950, 1 % and 1 %, in a divider of 10 kOhm 1 % to the supply.
- thermal: published regression of a thermal module, v[mph] = (((V - V0) / (3.038517 T^0.115157)) / 0.087288)^3.009364
  with T in degrees Celsius and V0 1.3692 V; such a module feels mass flow, so v is that of air at 1.2 kg/m3. It takes
  3 % of the bore and sits in the middle, where a turbulent profile of the 1/7 power is faster than its mean.
- converter of the chip: ATmega328P data sheet, 10 bit, code = Vin 1024 / Vref, absolute accuracy 2 counts.
- bandgap: 1.1 V, 1.0 to 1.2 V.
- scale: HX711, 24 bit, gain 128, full scale 0.5 Vs / 128; 50 nV rms noise at 10 per second; cell of 2 mV/V.
- rotor: K factor of the built spool; magnets are spaced unevenly by 1 to 3 %; start-up speed 0.3 to 0.5 m/s
  (common practice, no source).
"""

from __future__ import annotations

from math import exp
from random import Random

from frothline.simulation.gas import STANDARD_DENSITY, ZERO_CELSIUS

BORE = 0.063  # m, of the spool
AREA = 3.141592653589793 / 4.0 * BORE * BORE
PULSES_PER_REVOLUTION = 4
K_FACTOR = 9600.0  # pulses per m3 through the bore
START_SPEED = 0.4  # m/s, mean over the bore, lost to the rotor's friction
DISTANCE_CONSTANT = 0.6  # m of air that passes while the rotor follows by 63 %
CELL_CAPACITY = 50.0  # kg
COUNTS_PER_MILLIVOLT_PER_VOLT = 2097152.0
COUNTS_PER_KG = 2.0 * COUNTS_PER_MILLIVOLT_PER_VOLT / CELL_CAPACITY


def _within(random: Random, band: float) -> float:
    """A random error within a maker's limits ``+-band``: normal with half the band as standard deviation, truncated."""
    while True:
        x = random.gauss(0.0, band / 2.0)
        if abs(x) <= band:
            return x


class Instruments:
    """One rig's sensors. Call :meth:`advance` each step, then read the attributes.

    Parameters
    ----------
    random
        The constant errors are drawn from it at once, noise later.
    errors
        1 for sensors with the errors of their data sheets, 0 for perfect ones.
    """

    def __init__(self, random: Random, errors: float = 1.0) -> None:
        e = errors
        self._random = random
        # pressure: the whole band is 2.5 % of span = 1.25 kPa, divided between zero, span and curvature
        self.pressure_zero = e * _within(random, 750.0)  # Pa
        self.pressure_span = e * _within(random, 0.008)
        self.pressure_bow = e * _within(random, 100.0)  # Pa in the middle of 50 kPa
        self.differential_zero = e * _within(random, 100.0)
        self.differential_span = e * _within(random, 0.02)
        self.ntc_ratio = 1.0 + e * _within(random, 0.01)
        self.ntc_beta = 3950.0 * (1.0 + e * _within(random, 0.01))
        self.ntc_series = 1.0 + e * _within(random, 0.01)
        self.thermal_zero = 1.3692 + e * _within(random, 0.02)  # V
        self.thermal_gain = 1.0 + e * _within(random, 0.03)
        self.bandgap = 1.1 + e * _within(random, 0.1)
        self.adc_zero = e * _within(random, 1.0)  # counts
        self.adc_noise = 0.8  # counts, one conversion: 4 to 5 counts from peak to peak
        self.supply_nominal = 5.0 + (random.uniform(-0.12, 0.08) if e else 0.0)
        self.k_factor = K_FACTOR * (1.0 + e * _within(random, 0.02))
        self.start_speed = START_SPEED * (1.0 + e * _within(random, 0.2))
        self.backwards = False
        self.cell_zero = 80000.0 + e * random.uniform(-60000.0, 60000.0)
        self.cell_span = COUNTS_PER_KG * (1.0 + e * _within(random, 0.005))
        spacing = [e * random.gauss(0.0, 0.015) for _ in range(PULSES_PER_REVOLUTION)]
        mean = sum(spacing) / PULSES_PER_REVOLUTION
        self._spacing = [x - mean for x in spacing]
        self._jitter = 0.004 * e
        # Rigs read the scale at different times; that must not affect the rotor's random numbers.
        self._scale_random = Random(random.getrandbits(64))  # noqa: S311  # a simulation, not a secret
        # state
        self.supply = self.supply_nominal
        self.supply_sag = 0.0
        self.pressure_felt = 0.0
        self.tap_lag = 0.005  # s: tube, restrictor and sensor
        self.differential_felt = 0.0
        self.ntc_temperature = 293.15
        self.rotor_frequency = 0.0
        self._phase = random.uniform(0.0, 0.8)  # not at the first magnet
        self._turns = 0
        self._next = 1.0 + self._spacing[0]
        self.edges: list[float] = []  # times, s, since the last read
        self.thermal_felt = 1.4
        self.scale_felt = 0.0
        self._walk = 0.0
        self._step = self._tap_lag = 0.0

    def advance(
        self,
        now: float,
        dt: float,
        pressure: float,
        differential: float,
        air_temperature: float,
        volume_flow: float,
        density: float,
        room_temperature: float,
    ) -> None:
        """Advance by ``dt`` s, ending at ``now``, with the true state of the line."""
        # supply: a slow walk of a few millivolts
        if dt != self._step:
            self._set_step(dt)
        self._walk += dt * (-self._walk / 20.0) + self._walk_step * self._random.gauss(0.0, 1.0)
        self.supply = self.supply_nominal - self.supply_sag + self._walk

        if self.tap_lag != self._tap_lag:
            self._tap_lag, self._tap_share = self.tap_lag, 1.0 - exp(-dt / self.tap_lag)
        self.pressure_felt += (pressure - self.pressure_felt) * self._tap_share
        self.differential_felt += (differential - self.differential_felt) * self._differential_share

        speed = volume_flow / AREA
        away = speed if speed > 0.0 else -speed
        # thermistor bead: time constant of seconds in moving air, of half a minute in still air
        lag = 1.0 / (0.03 + 0.11 * away**0.5)
        mixed = air_temperature if away > 0.05 else 0.7 * air_temperature + 0.3 * room_temperature
        self.ntc_temperature += (mixed - self.ntc_temperature) * dt / lag

        reach = speed / (0.8167 * 0.97) * density / STANDARD_DENSITY
        ideal = self._thermal_voltage(reach, air_temperature)
        self.thermal_felt += (ideal - self.thermal_felt) * dt / (0.15 + dt)

        self._turn(now, dt, volume_flow, away)

    def _set_step(self, dt: float) -> None:
        """Calculate what depends on the step alone."""
        self._step = dt
        self._walk_step = 0.0012 * dt**0.5
        self._differential_share = 1.0 - exp(-dt / 0.005)
        self._tap_lag = 0.0

    def _thermal_voltage(self, speed: float, temperature: float) -> float:
        mph = abs(speed) / 0.44704
        celsius = max(temperature - ZERO_CELSIUS, 1.0)
        return self.thermal_zero + self.thermal_gain * 0.26522607 * float(celsius**0.115157 * mph**0.33229613)

    def _turn(self, now: float, dt: float, volume_flow: float, away: float) -> None:
        start = self.start_speed * AREA
        if volume_flow > start:
            aim = self.k_factor * (volume_flow - start)
        elif volume_flow < -start:
            aim = self.k_factor * (-start - volume_flow)
        else:
            aim = 0.0
        if self.backwards:
            aim *= 0.71  # vanes hit from behind slip more
        before = self.rotor_frequency
        after = before + (aim - before) * min(1.0, dt * (away + 0.15) / DISTANCE_CONSTANT)
        if aim == 0.0 and after < 1.0:
            after = 0.0
        self.rotor_frequency = after
        mean = 0.5 * (before + after)
        if mean <= 0.0:
            return
        end = self._phase + mean * dt
        while self._next <= end:
            self.edges.append(max(now - (end - self._next) / mean, now - dt))
            self._turns += 1
            k = self._turns % PULSES_PER_REVOLUTION
            jitter = self._random.gauss(0.0, self._jitter) if self._jitter else 0.0
            wanted = 1.0 + self._turns + self._spacing[k] + jitter
            self._next = max(wanted, self._next + 0.5)
        self._phase = end

    # --- pins -------------------------------------------------------------------------------------------------

    def pressure_ratio(self) -> float:
        """Pressure pin over the supply."""
        p = self.pressure_felt
        share = p / 50000.0
        read = p * (1.0 + self.pressure_span) + self.pressure_zero + 4.0 * self.pressure_bow * share * (1.0 - share)
        return min(max(0.018e-3 * read + 0.04, 0.002), 0.985)

    def differential_ratio(self) -> float:
        read = self.differential_felt * (1.0 + self.differential_span) + self.differential_zero
        return min(max(0.057e-3 * read + 0.5, 0.02), 0.98)

    def temperature_ratio(self) -> float:
        ohms = self.ntc_ratio * 1e4 * exp(self.ntc_beta * (1.0 / (self.ntc_temperature + 0.09) - 1.0 / 298.15))
        return ohms / (ohms + 1e4 * self.ntc_series)

    def thermal_ratio(self) -> float:
        return min(self.thermal_felt / self.supply, 1.0)

    def bandgap_ratio(self) -> float:
        return self.bandgap / self.supply

    def scale_counts(self, mass: float) -> int:
        """A new reading of the load cell with ``mass`` kg."""
        counts = self.cell_zero + self.cell_span * mass + self._scale_random.gauss(0.0, 21.0)
        return int(min(max(round(counts), -0x800000), 0x7FFFFF))
