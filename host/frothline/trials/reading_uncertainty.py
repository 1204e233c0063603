"""The part of a figure's uncertainty that is independent between trials: the scale's steps and the stop watch.

The volume of the bucket, the anemometer and other errors that are common to the samples (``FoamSample.shared``) do not
count. A figure whose uncertainty is not kept in two parts (pressure, air rate, water temperature, concrete) has none.
"""

from __future__ import annotations

from math import hypot, isfinite, sqrt
from typing import TYPE_CHECKING

from frothline.estimate import Estimate

if TYPE_CHECKING:
    from frothline.trials.trial import Trial

OF_SAMPLES = ("density", "expansion", "output", "drainage", "capture")


def reading_of(trial: Trial, response: str, figure: Estimate) -> float:
    """Standard uncertainty of a figure of a trial from its readings alone, SI; 0 where it is not known.

    ``figure`` : as it is compared, such as a drainage time at a common depth. Several samples are a mean.
    """
    if response not in OF_SAMPLES or not figure.known:
        return 0.0
    own, values = [], []
    for sample in trial.samples:
        one: Estimate | None = getattr(sample, response)
        if one is None or not one.known or (response == "drainage" and sample.depth != trial.drainage_depth):
            continue
        common = hypot(*sample.shared.get(response, {}).values())
        own.append(max(one.standard_uncertainty**2 - common**2, 0.0))
        values.append(one.value)
    if not own or not sum(values) > 0.0:
        return 0.0
    found = sqrt(sum(own)) / len(own) * figure.value / (sum(values) / len(values))
    return found if isfinite(found) else 0.0
