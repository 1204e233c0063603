"""Pure functions of the trade: numbers and arrays in SI go in, the same come out.

Each docstring gives formula, units, range of validity, known bias, uncertainty where the source states one, and a key
of the bibliography in ``references``.
"""

from frothline.physics import air, foam, hole, manifold, mix, orifice, packing, pipe, references, safety, water

__all__ = ["air", "foam", "hole", "manifold", "mix", "orifice", "packing", "pipe", "references", "safety", "water"]
