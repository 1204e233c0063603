"""Whether anemometer, source curve, build sheet, scale and sample of a run agree, and which of them does not.

The first three are views of one flow, scale and sample are observations of one foam. Two flows differ where the
logarithm of their ratio exceeds the root of the sum of squares of their 95 % intervals on the facing sides (as in the
E_n number of ISO 13528:2015, from memory) and the tolerance that the watch allows curve and build. Scale and sample
differ by the rule of ``foam.sample_check``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from math import hypot, inf, log

from frothline.estimate import Estimate
from frothline.run.watch.startup import OFF

ANEMOMETER, SOURCE, BUILD = "anemometer", "source curve", "build sheet"
SCALE, SAMPLE = "scale", "sample"
PARTS = (ANEMOMETER, SOURCE, BUILD, SCALE, SAMPLE)


@dataclass(frozen=True)
class Agreement:
    """Parts of a run, of PARTS: those that ``agree``, those that do not (``apart``), others are ``missing``."""

    agree: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    missing: tuple[str, ...] = PARTS

    @property
    def words(self) -> str:
        """The agreement as sentences."""
        said = []
        if len(self.apart) == 1 and self.agree:
            said.append(f"{_listed(self.apart)} does not agree with {_listed(self.agree)}")
        elif self.apart:
            said.append(f"{_listed(self.apart)} do not agree")
            said += [f"{_listed(self.agree)} agree"] if len(self.agree) > 1 else []
        elif self.agree:
            said.append(f"{_listed(self.agree)} agree")
        if self.missing:
            said.append(f"Not compared: {', '.join(self.missing)}")
        return " ".join(f"{one[:1].upper()}{one[1:]}." for one in said)


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def agreement_of(
    flows: Mapping[str, Estimate | None], *, scale_apart: bool | None = None, sample_apart: bool | None = None
) -> Agreement:
    """The agreement of a run's parts.

    Parameters
    ----------
    flows
        The same flow, m3/s, by ANEMOMETER, SOURCE and BUILD; None or missing if unknown.
    scale_apart, sample_apart
        Whether each contradicts the rest of the run; None: there is nothing to compare it with.
    """
    known = {name: flow for name, flow in flows.items() if flow is not None and flow.known and flow.value > 0.0}
    apart = _odd(known)
    compared = set(known) if len(known) > 1 else set()
    for name, verdict in ((SCALE, scale_apart), (SAMPLE, sample_apart)):
        if verdict is not None:
            compared.add(name)
            apart |= {name} if verdict else set()
    return Agreement(
        tuple(name for name in PARTS if name in compared - apart),
        tuple(name for name in PARTS if name in apart),
        tuple(name for name in PARTS if name not in compared),
    )


def _odd(flows: dict[str, Estimate]) -> set[str]:
    """The flows that disagree: the one that differs from two that agree, else all of each pair that differs."""
    pairs = [set(pair) for pair in combinations(flows, 2) if differ(*(flows[name] for name in pair))]
    if len(flows) == 3 and len(pairs) == 2:
        return pairs[0] & pairs[1]
    return set().union(*pairs)


def differ(one: Estimate, other: Estimate) -> bool:
    """Whether two flows above zero differ by more than their 95 % intervals and the watch's tolerance."""
    low, high = sorted((one, other), key=lambda flow: flow.value)
    below = log(high.value / high.lower) if high.lower > 0.0 else inf
    above = log(low.upper / low.value)
    return log(high.value / low.value) > OFF + hypot(below, above)
