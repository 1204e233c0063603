"""Foam generators whose truth the planner does not see, and three ways of finding a usable foam.

Run as a program it prints the table that DEVELOPERS.md asks for: runs needed by the planner, by changing one factor at a
time and by random choice, over many generators. The truth is written apart from the planner's model: saturating,
multiplicative and with thresholds, so that no polynomial in logarithms is exact. The numbers are invented; only the
directions follow published work (longer packing: finer bubbles and better capture; finer bubbles drain more slowly; more
solution: wetter foam).
"""

import math
import sys
from dataclasses import dataclass

import numpy as np

from frothline.trials.experiment_design import Factor, Planner, Tried, Wish

FACTORS = (
    Factor("holes", (12, 18, 24, 36, 48)),
    Factor("packing length", (0.05, 0.08, 0.12, 0.18), "m"),
    Factor("outlet bore", (0.016, 0.020, 0.025, 0.032, 0.040), "m"),
    Factor("dilution", (16, 20, 30, 40), "parts of water"),
)
WISHES = (Wish("foam density", 70, 100, "kg/m3"), Wish("drainage time", 400, math.inf, "s"))
LIMIT = 60


@dataclass(frozen=True)
class HiddenGenerator:
    """One draw of the constants of a made-up generator."""

    air: float
    wet: float
    capture_length: float
    hole_share: float
    outlet_power: float
    pore: float
    agent: float
    flooding: float
    scale: float

    @classmethod
    def draw(cls, rng):
        return cls(
            air=rng.uniform(60, 160),
            wet=rng.uniform(3, 9),
            capture_length=rng.uniform(0.03, 0.12),
            hole_share=rng.uniform(0.2, 0.9),
            outlet_power=rng.uniform(0.5, 1.6),
            pore=rng.uniform(0.3, 0.7),
            agent=rng.uniform(0.3, 1.0),
            flooding=rng.uniform(20, 60),
            scale=rng.uniform(60, 200),
        )

    def truth(self, s):
        holes, length, bore, parts = (s[f.name] for f in FACTORS)
        opening = bore / 0.025
        choke = (holes / 24) ** self.hole_share
        air = self.air * opening**self.outlet_power * choke / (choke + 0.6 * opening + 3 * length)
        capture = 1 - math.exp(-length / self.capture_length * 24 / (parts + 8))
        flood = 1 / (1 + math.exp(-(holes - self.flooding) / 6))
        solution = self.wet * (0.6 + 0.5 * opening) * (1 + 0.8 * flood)
        expansion = 1 + capture * air / solution
        density = 1.2 + 997 / expansion
        bubble = self.pore * (0.5 + math.exp(-length / 0.06)) * (1 + 0.3 * flood) * (0.7 + 0.3 * opening)
        drainage = self.scale * bubble**-2 * (30 / (parts + 10)) ** self.agent * (density / 80) ** -0.5
        return {"foam density": density, "drainage time": drainage}

    def usable(self, s):
        out = self.truth(s)
        return all(w.met(out[w.response]) for w in WISHES)

    def measure(self, s, rng):
        out = self.truth(s)
        return {
            "foam density": out["foam density"] * math.exp(rng.normal(0, 0.04)),
            "drainage time": out["drainage time"] * math.exp(rng.normal(0, 0.10)),
        }


def score(responses):
    return float(np.prod([w.score(np.log(responses[w.response])) for w in WISHES]))


def worthwhile(seed):
    """A generator with between 2 and 12 % usable builds, and a first build that is not one of them."""
    rng = np.random.default_rng(seed)
    catalogue = Planner(FACTORS, WISHES).catalogue
    while True:
        generator = HiddenGenerator.draw(rng)
        good = np.array([generator.usable(s) for s in catalogue])
        if 0.02 <= good.mean() <= 0.12:
            first = catalogue[int(rng.choice(np.flatnonzero(~good)))]
            return generator, first, rng


def runs_by_planner(generator, first, rng, seed):
    planner = Planner(FACTORS, WISHES, seed=seed)
    queue = [first, *(p.settings for p in planner.screening(first, runs=3) if p.settings != first)]
    tried = []
    for count in range(1, LIMIT + 1):
        s = queue.pop(0) if queue else planner.next_run(tried).settings
        if generator.usable(s):
            return count
        tried.append(Tried(s, generator.measure(s, rng)))
    return LIMIT + 1


def runs_one_factor_at_a_time(generator, first, rng):
    """Takes the factors in turn, tries every other size of each, keeps what measured best, and goes round again."""
    if generator.usable(first):
        return 1
    best, best_score, count = dict(first), score(generator.measure(first, rng)), 1
    seen = {tuple(first.values())}
    while count < LIMIT:
        before = count
        for factor in rng.permutation(np.arange(len(FACTORS))):
            f = FACTORS[factor]
            centre = dict(best)
            for level in f.levels:
                s = {**centre, f.name: level}
                if tuple(s.values()) in seen:
                    continue
                seen.add(tuple(s.values()))
                count += 1
                if generator.usable(s):
                    return count
                result = score(generator.measure(s, rng))
                if result > best_score:
                    best, best_score = s, result
        if count == before:  # nothing new near the best: start again from anywhere
            catalogue = Planner(FACTORS, WISHES).catalogue
            best = dict(catalogue[int(rng.integers(len(catalogue)))])
            best_score = -1.0
    return LIMIT + 1


def runs_at_random(generator, first, rng):
    catalogue = Planner(FACTORS, WISHES).catalogue
    order = [first, *(catalogue[i] for i in rng.permutation(len(catalogue)))]
    for count, s in enumerate(order[:LIMIT], 1):
        if generator.usable(s):
            return count
    return LIMIT + 1


def compare(generators, seed=1):
    """(generators, 3) runs needed: planner, one factor at a time, random. LIMIT + 1 stands for 'not found'."""
    rows = []
    for i in range(generators):
        generator, first, _ = worthwhile(seed * 100_000 + i)
        rows.append(
            (
                runs_by_planner(generator, first, np.random.default_rng(i), i),
                runs_one_factor_at_a_time(generator, first, np.random.default_rng(i)),
                runs_at_random(generator, first, np.random.default_rng(i)),
            )
        )
    return np.array(rows)


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    table = compare(number)
    print(f"| way | median runs | mean runs | 90 % within | not within {LIMIT} |   ({number} generators)")
    print("|---|---|---|---|---|")
    for name, column in zip(("planner", "one factor at a time", "random choice"), table.T, strict=True):
        print(
            f"| {name} | {np.median(column):.0f} | {column.mean():.1f} | {np.quantile(column, 0.9):.0f} | "
            f"{(column > LIMIT).sum()} |"
        )
