"""Points of sources and generators for the tests: plain formulas, nothing of the package's fits."""

import numpy as np

from frothline.curve.steady_points import CommonError, SteadyPoint

# A blower p = 20000 - 120000 Q - 3.5e6 Q^2 behind ten sharp orifices (Cd = 0.60, 1.2 kg/m3); where each settles was
# solved with scipy.optimize.brentq, the exact results with the quadratic formula, both apart from this package.
TEN_ORIFICES = (
    # m3/s, Pa
    (0.0034297, 19547.266),
    (0.0075856, 18888.326),
    (0.0131013, 17827.097),
    (0.0195795, 16308.699),
    (0.0264676, 14372.022),
    (0.0331559, 12173.705),
    (0.0391368, 9942.688),
    (0.0480703, 6143.942),
    (0.0533289, 3646.648),
    (0.0578274, 1356.692),
)
FREE_DELIVERY = 0.06036948552  # m3/s
FLOW_AT_LARGEST_POWER = 0.03368654965  # m3/s
LARGEST_POWER = 403.7626502  # W
SHUT_OFF = 20000.0  # Pa
# with the load p = 2e5 Q + 6e6 Q^2
MEETING_FLOW, MEETING_PRESSURE = 0.03203447059, 12564.13796


def blower(q):
    return 20000.0 - 120000.0 * q - 3.5e6 * q**2


def points(q, p, u_p=10.0, u_q=2e-5, common=(), **more):
    """Exact points with stated random uncertainties; ``common`` as (name, share of pressure, share of flow)."""
    return [
        SteadyPoint.from_parts(
            float(y),
            float(x),
            (u_p, u_q, 0.0),
            [CommonError(n, a * float(y), b * float(x)) for n, a, b in common],
            **more,
        )
        for x, y in zip(q, p, strict=True)
    ]


def noisy(rng, q, curve, u_p=30.0, u_q=1e-4, common=(), **more):
    """Points of ``curve`` with normal errors in both variables and, for each common error, one draw for all."""
    q = np.asarray(q, dtype=float)
    p = curve(q)
    drawn = [(name, a, b, rng.standard_normal()) for name, a, b in common]
    seen_p = p * (1 + sum(a * z for _, a, _, z in drawn)) + u_p * rng.standard_normal(len(q))
    seen_q = q * (1 + sum(b * z for _, _, b, z in drawn)) + u_q * rng.standard_normal(len(q))
    return points(seen_q, seen_p, u_p, u_q, common, **more)


def ten_orifices(**more):
    q, p = zip(*TEN_ORIFICES, strict=True)
    return points(q, p, **more)
