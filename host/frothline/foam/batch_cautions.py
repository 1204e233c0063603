"""Cautions for concrete and foam, with their figures and sources. Local codes and licensed practice come first."""

from __future__ import annotations

from frothline.physics.fresh_concrete import CEMENT_HEAT, adiabatic_rise, side_pressure

LIFT = 0.5  # m: usual limit of a lift of light concrete; common practice, no source
LIME_WATER_PH = 12.35  # of water saturated with lime, from its solubility product 5.5e-6
STREAM_PH = 9.0  # highest for life in fresh water: criterion of the US EPA, 6.5 to 9
STUDIED_DOSE = (0.0035, 0.0045)  # detergent over cement by mass (Waheed and others 2019)

CAUTIONS = (
    (
        "Not structural without the approval of a licensed engineer, on tests of your own specimens. Local codes and "
        "licensed practice come before anything written here."
    ),
    (
        "Wet cement burns skin and eyes with a pH of 12 to 13, often without pain at first; a deep burn after 2 h of "
        "contact is reported. Alkali-proof gloves, boots and closed goggles; wash at once, change wet clothes."
    ),
    (
        "Cement and sand dust harm the lungs: the limit of respirable quartz is 0.05 mg in a cubic metre of "
        "air over 8 h "
        "(29 CFR 1926.1153). A fitting respirator for dry powder and for cutting cured blocks; cut wet."
    ),
    "Blower and mixer on a residual-current device of 30 mA; plugs and rig above the wet.",
    (
        "Foam is not to be stored: even a stable one has lost up to 12 % of its solution after 5 min (Ranjani and "
        "Ramamurthy 2010), and the concrete becomes heavier than calculated. Fold it in as it is made."
    ),
    (
        "Much detergent slows the setting and weakens cement: 0.35 to 0.45 % of the cement's mass was "
        "studied (Waheed and "
        "others 2019). Make cubes before you change agent or dilution."
    ),
    f"A thick pour heats up inside: cast lifts of {LIFT * 1e3:.0f} mm at most, let each set, and watch for cracks.",
    (
        f"Slurry, wash water and foam never go into drains and streams: at pH {LIME_WATER_PH} cement water has to be "
        "thinned "
        f"{10 ** (LIME_WATER_PH - STREAM_PH):.0f} times to reach pH {STREAM_PH:.0f}, the limit for life in "
        "fresh water (US "
        "EPA), and detergent kills fish. Let it set in a lined pit."
    ),
)


def form_caution(density: float) -> str:
    """The caution for the form: side pressure of fresh concrete of a density kg/m³, as of a liquid: p = ρ g h."""
    per_metre = side_pressure(1.0, density)
    return (
        f"Fresh concrete presses like a liquid (p = ρ g h, as ACI 347 takes it for concrete that flows): "
        f"{per_metre / 1e3:.1f} kPa more at each metre of depth, {per_metre * LIFT / 1e3:.1f} kPa under a lift of "
        f"{LIFT * 1e3:.0f} mm. Brace the form for it; EN 12812 is for props and falsework."
    )


def heat_caution(cement: float, water: float, sand: float) -> str:
    """The caution for heat in a thick pour of a mix (kg): the rise without any loss of heat."""
    rise = adiabatic_rise(cement, water, sand)
    return (
        f"The core of a thick pour of this mix becomes up to {rise:.0f} K warmer, as no heat leaves it: "
        f"{CEMENT_HEAT / 1e3:.0f} kJ for each kilogram of cement in 7 days (Kosmatka and others 2002). Foamed concrete "
        "insulates itself: thin lifts, cool water, no cover on the first day."
    )


def detergent_caution(agent: float, cement: float) -> str:
    """The caution for a dose of agent (kg, taken as 1 kg/L) above what was studied with detergent; empty below it."""
    dose = agent / cement
    if dose <= STUDIED_DOSE[1] * (1 + 1e-9):
        return ""
    return (
        f"The agent is {100 * dose:.2f} % of the cement's mass. With detergent only {100 * STUDIED_DOSE[0]:.2f} to "
        f"{100 * STUDIED_DOSE[1]:.2f} % was studied: cement may set late and stay weak. Make cubes first."
    )
