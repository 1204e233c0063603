"""CoolProp's properties of fluids. The library is imported at the first call, because its import takes seconds and every
test process collects every file.
"""


def fluid_property(*arguments):
    """``PropsSI`` of CoolProp: one property of a fluid at a state of two others, SI."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI(*arguments)


def humid_air(*arguments):
    """``HAPropsSI`` of CoolProp: one property of humid air at a state of three others, SI."""
    from CoolProp.HumidAirProp import HAPropsSI

    return HAPropsSI(*arguments)
