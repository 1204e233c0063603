"""Draws the bench from the side: what stands where, and why the blower stands highest.

    python hardware/guide/bench.py      writes bench.svg beside this file

The spool is to scale, its lengths from the package's spool file; everything else is drawn as it is recognised.
"""

from __future__ import annotations

import sys
from html import escape
from pathlib import Path

from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
WIDE, HIGH = 1080.0, 640.0
SCALE = 480.0  # px per metre along the spool
LEFT, AXIS = 250.0, 350.0  # where the spool begins, and its middle line
STYLE = (
    ".p{fill:none;stroke:#22313a;stroke-width:2}.t{fill:none;stroke:#22313a;stroke-width:1}"
    ".w{fill:none;stroke:#22313a;stroke-width:1;stroke-dasharray:5 3}"
    ".b{fill:#fff;stroke:#22313a;stroke-width:2}.f{fill:#22313a;fill-opacity:.12;stroke:#22313a;stroke-width:1}"
    ".g{fill:#1b7f6b}.a{fill:none;stroke:#1b7f6b;stroke-width:2}.r{fill:none;stroke:#a63a2a;stroke-width:2}"
    "text{font:13px system-ui,sans-serif;fill:#22313a}.k{fill:#fff;font-weight:700;text-anchor:middle}"
)

# Number, place of its mark, words of the list under the drawing; places are filled in by ``bench``.
WORDS = (
    "air source, highest of all: foam that runs back finds no way up; plugged into a 30 mA residual-current device",
    "hose, tied to the spool with a clamp: a soapy push-fit slides off",
    "flow straightener, one bore long, pushed in where the pipe begins",
    "straight pipe, {up:.0f} mm from the last fitting to the rotor",
    "pressure tap on top of the pipe, {tap:.0f} mm before the rotor; its tube rises to the sensor",
    "liquid trap in the tube's low place, and a water-repelling filter disc before the sensor",
    "box with board and sensors, above the pipe, on USB alone; a drip loop in every cable",
    "rotor in its carrier, arrow along the air; line thermistor behind it",
    "straight pipe, {down:.0f} mm behind the rotor",
    "for a sweep: plate holder, one drilled plate at a time, blowing away from people",
    "for a run: loop above the foam chamber and a check valve, then the generator, lower than all",
    "relief: opens at 20 kPa, before anything else gives way; at the generator for a run, on a tee between hose and spool for a "
    "sweep; nobody's face in line with it",
    "metal parts joined to earth through 1 MΩ: dry air and foam charge plastic",
)


def bench(spool: Spool) -> str:
    """The whole drawing as SVG."""
    pipe = spool.pipe
    up, down, tap = (1e3 * x for x in (pipe.straight_upstream, pipe.straight_downstream, pipe.tap_to_rotor))
    rotor = LEFT + pipe.straight_upstream * SCALE
    end = rotor + pipe.straight_downstream * SCALE
    half = pipe.outer_diameter * SCALE / 2
    bore = pipe.bore * SCALE / 2
    at_tap = rotor - pipe.tap_to_rotor * SCALE
    straightener = LEFT + pipe.bore * SCALE
    cells = "".join(f"M{LEFT:.0f} {AXIS + bore * k / 3:.1f}H{straightener:.1f}" for k in (-2, -1, 0, 1, 2))
    drawn = [
        # shelf and source
        '<path class="p" d="M20 210H190M40 210V566M170 210V566"/><rect class="b" x="50" y="120" width="110" height="90" rx="12"/>',
        _text(105, 170, "air source", "middle"),
        '<path class="w" d="M50 150C20 150 20 320 30 380C36 410 16 420 16 380V300"/>',
        # hose from the source down to the spool
        f'<path class="p" d="M160 150H200C232 150 210 {AXIS - 12} {LEFT - 20} {AXIS - 12}M160 172H190C206 172 190 {AXIS + 12}'
        f' {LEFT - 20} {AXIS + 12}"/>',
        f'<path class="p" d="M{LEFT - 20} {AXIS - 12}L{LEFT} {AXIS - half:.1f}M{LEFT - 20} {AXIS + 12}L{LEFT} {AXIS + half:.1f}"/>',
        # the spool
        f'<rect class="b" x="{LEFT}" y="{AXIS - half:.1f}" width="{end - LEFT:.1f}" height="{2 * half:.1f}"/>'
        f'<path class="t" d="M{LEFT} {AXIS - bore:.1f}H{end:.1f}M{LEFT} {AXIS + bore:.1f}H{end:.1f}{cells}"/>',
        f'<rect class="f" x="{rotor - 22:.1f}" y="{AXIS - half - 5:.1f}" width="44" height="{2 * half + 10:.1f}"/>'
        f'<path class="p" d="M{rotor:.1f} {AXIS - bore + 2:.1f}V{AXIS + bore - 2:.1f}M{rotor - 7:.1f} {AXIS - bore + 4:.1f}'
        f'L{rotor + 7:.1f} {AXIS + bore - 4:.1f}"/>',
        f'<path class="a" d="M{LEFT + 60} {AXIS}H{LEFT + 120}m-9 -5l9 5l-9 5M{rotor + 40:.0f} {AXIS}h40m-9 -5l9 5l-9 5"/>',
        # tap, trap, box
        f'<path class="p" d="M{at_tap:.1f} {AXIS - half:.1f}V270C{at_tap:.0f} 236 {at_tap + 28:.0f} 236'
        f' {at_tap + 28:.0f} 270V284M{at_tap + 38:.0f} 284V205"/>'
        f'<rect class="b" x="{at_tap + 22:.1f}" y="284" width="22" height="34" rx="5"/>'
        f'<rect class="f" x="{at_tap + 33:.1f}" y="222" width="10" height="8"/>',
        f'<rect class="b" x="{at_tap - 10:.1f}" y="120" width="170" height="84" rx="6"/>',
        _text(at_tap + 75, 160, "board, sensors", "middle") + _text(at_tap + 75, 178, "USB only", "middle"),
        f'<path class="w" d="M{rotor + 14:.1f} {AXIS - half - 5:.1f}V240C{rotor + 14:.0f} 232 {rotor + 30:.0f} 262 {rotor + 30:.0f} 230V204"/>',
        f'<path class="w" d="M{at_tap + 160:.1f} 150H{at_tap + 190:.0f}C{at_tap + 214:.0f} 150 {at_tap + 204:.0f} 196'
        f' {at_tap + 226:.0f} 196C{at_tap + 244:.0f} 196 {at_tap + 236:.0f} 120 {at_tap + 262:.0f} 120"/>',
        _text(at_tap + 264, 112, "to the computer", "start"),
        # feet
        *(
            f'<path class="t" d="M{x - 14:.0f} {AXIS + half + 54:.0f}L{x:.0f} {AXIS + half:.1f}L{x + 14:.0f} {AXIS + half + 54:.0f}z"/>'
            for x in (LEFT + 70, end - 40)
        ),
        # plate holder, drawn apart
        f'<rect class="f" x="{end + 8:.1f}" y="{AXIS - half - 8:.1f}" width="14" height="{2 * half + 16:.1f}"/>'
        f'<path class="r" d="M{end + 15:.1f} {AXIS - half - 4:.1f}V{AXIS - 8}M{end + 15:.1f} {AXIS + 8}V{AXIS + half + 4:.1f}"/>'
        f'<path class="a" d="M{end + 30:.0f} {AXIS}h46m-9 -5l9 5l-9 5"/>',
        # loop, check valve, generator, bucket
        f'<path class="w" d="M{end + 30:.1f} {AXIS - 14}C{end + 60:.0f} {AXIS - 14} {end + 44:.0f} 236 {end + 84:.0f} 236'
        f'C{end + 124:.0f} 236 {end + 104:.0f} 400 {end + 112:.0f} 446"/>',
        f'<path class="b" d="M{end + 98:.0f} 320l24 0l-12 18z"/>',
        f'<rect class="b" x="{end + 74:.0f}" y="446" width="176" height="44" rx="4"/>'
        + _text(end + 162, 473, "generator", "middle"),
        f'<path class="r" d="M{end + 204:.0f} 446v-22m-7 6l7 -8l7 8"/>',
        f'<path class="p" d="M{end + 250:.0f} 468h14v18M{end + 246:.0f} 500l6 60h44l6 -60"/>',
        # earth
        f'<path class="w" d="M{rotor + 14:.1f} {AXIS + half + 5:.1f}V{AXIS + half + 50:.1f}"/>'
        f'<path class="t" d="M{rotor + 2:.0f} {AXIS + half + 50:.1f}h24m-20 5h16m-12 5h8"/>',
        '<path class="p" d="M10 566H1070"/>',
    ]
    places = (
        (64, 106), (196, 134), (LEFT + 16, AXIS + half + 16), (LEFT + 150, AXIS + half + 18), (at_tap - 16, AXIS - half - 18),
        (at_tap + 58, 300), (at_tap + 8, 108), (rotor + 36, AXIS - half - 16), (end - 70, AXIS + half + 18),
        (end + 15, AXIS + half + 26), (end + 84, 222), (end + 226, 428), (rotor + 42, AXIS + half + 44),
    )  # fmt: skip
    marks = "".join(
        f'<circle class="g" cx="{x:.0f}" cy="{y:.0f}" r="10"/><text class="k" x="{x:.0f}" y="{y + 4.5:.1f}">{n}</text>'
        for n, (x, y) in enumerate(places, 1)
    )
    words = "; ".join(f"{n} {w.format(up=up, down=down, tap=tap)}" for n, w in enumerate(WORDS, 1))
    scale = f'<path class="t" d="M20 600h{0.2 * SCALE:.0f}m0 -4v8M20 596v8"/>' + _text(
        28 + 0.2 * SCALE, 604, "200 mm, along the spool", "start"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img">'
        f"<title>The bench from the side</title><desc>{escape(words)}</desc><style>{STYLE}</style>"
        f'<rect width="{WIDE:.0f}" height="{HIGH:.0f}" fill="#fff"/>{"".join(drawn)}{marks}{scale}</svg>\n'
    )


def legend(spool: Spool) -> str:
    """The numbers in words, as Markdown."""
    pipe = spool.pipe
    up, down, tap = (1e3 * x for x in (pipe.straight_upstream, pipe.straight_downstream, pipe.tap_to_rotor))
    return "".join(f"{n}. {words.format(up=up, down=down, tap=tap)}\n" for n, words in enumerate(WORDS, 1))


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}">{escape(words)}</text>'


def main() -> int:
    (HERE / "bench.svg").write_text(bench(Spool.default()), "utf-8")
    print(legend(Spool.default()), end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
