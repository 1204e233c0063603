"""Pure functions of the trade: numbers and arrays in SI as arguments and results.

Each docstring gives formula, units, range of validity, known bias, uncertainty where the source states one, and a key
of the bibliography in ``references``.

Library functions: no page and no command uses them. They are for notebooks, and each is tested.

=========================  ==================================================================================
``mass_flow``              mass flow of a volume flow in the air of the line
``standard_flow``          volume flow of a mass flow at standard density
``free_air_flow``          volume flow of a mass flow in the air of the room
``foam_output``            foam flow, expansion and density from solution, air and captured share
``air_to_solution``        captured air over solution by volume for a target foam density
``true_water_cement``      water to cement of a mix with the foam's water
``ergun``                  pressure drop of a bed of grains
``free_drainage_time``     time in which a share of the solution drains from a column of foam
``allowed_time_osha``      time at a sound level, legal limit at work in the USA
``noise_dose_niosh``       share of a full day's noise, recommended limit
``noise_dose_osha``        share of a full day's noise, legal limit at work in the USA
=========================  ==================================================================================
"""

from frothline.physics import air, foam, hole, manifold, mix, orifice, packing, pipe, references, safety, water

__all__ = ["air", "foam", "hole", "manifold", "mix", "orifice", "packing", "pipe", "references", "safety", "water"]
