"""Words of the batch page. The labels of its entries are in ``bench.batch_form``, which the errors name too."""

from __future__ import annotations

from frothline.rounding import counted

QUESTION = "What goes into the mixer, and how did it turn out?"
BASIS = "Density basis"
BASES = (("cast", "wet (as cast)"), ("dry", "oven-dry"))
TABLE, HEADS = "The batch", ("", "whole batch", "per bag")
CEMENT, SAND, MIXER_WATER, FOAM = "cement", "sand", "water into the mixer", "foam"
RUNS = "generator runs, from air on"
AGENT, SOLUTION_WATER = "agent", "water in the solution"
NO_OUTPUT = "the foam rate is not known"
NO_UNCERTAINTY = "uncertainty not known"
AT_MIXER = "At the mixer"
SAVE_CUP = "Save this cup for later batches"
CAUTIONS = "Cautions"
RESULT = "Result: "
POURS, POURS_TABLE = "Pours of this folder", "What became of the foam in concrete, with 95 % intervals"
POUR_HEADS = (
    "",
    "cast density",
    "air surviving",
    "oven-dry density",
    "settled in 24 h",
    "strength, 7 days",
    "strength, 28 days",
)
JARS, JARS_TABLE = "Jars of this folder", "Slurry and foam in a jar, with 95 % intervals"
JAR_HEADS = ("jar", "air surviving", "air when settled", "settlement", "density")
NO_POURS = (
    "No pour is recorded in this folder. `frothline pours --new NAME --trial TRIAL` writes a file to fill in: masses, "
    "slurry, cup, lift, cubes."
)
SIMULATED_POURS = "Simulated: nobody poured this. Your own pours appear here once you have recorded one."
MORE_POURS = "`frothline pours --report FILE` writes the report of all pours."
PLAN, TIMETABLE, CARD = "Pour plan", "Timetable of a lift, from its first water", "Card for the wall, to print"
CALCULATING = "Calculating"
RECORD_POUR, RECORD, NO_TRIAL = "Record a pour", "Save this pour", "not recorded"
RECORD_ABOUT = (
    "The masses are those of a single mix of the plan: change them to what was really put in. Cubes and settlement are "
    "added below, weeks later."
)
RECORD_JAR, SAVE_JAR = "Record a jar", "Save this jar"
JAR_ABOUT = (
    "A jar of slurry and foam shows what survives of the foam before a bag of cement is risked. Leave empty what is "
    "not known: the height later is added below."
)
JAR, SETTLED_JAR, SAVE_SETTLED = "Jar", "Add the settled height of a jar", "Save the settled height"
CORRECT_JAR, NONE_CHOSEN, NO_JAR = "Correct a jar", "choose one", "the button names no jar"
CORRECT_POUR, NO_POUR = "Correct a pour", "the button names no pour"
CORRECT_POUR_ABOUT = (
    "An entry that is corrected or emptied stays in the pour's file as a comment. Cubes and settlement are corrected "
    "below."
)
MORE_ENTRIES = "Weighings of the cups, flow, temperatures, time"
CORRECT_JAR_ABOUT = "An entry that is corrected or emptied stays in the jar's file as a comment."
CUBES = "Cubes and settlement"
CUBES_ABOUT = (
    "What is known later is added to the file of the pour. An entry that is corrected, and a cube that is taken out, "
    "stay in the file as comments."
)
NO_OWN_POURS = "Save a pour first: its cubes and its settlement are added here."
POUR, NEW_CUBE, ADD_CUBE = "Pour", "Add a cube", "Add this cube"
SHAPE, SHAPES = "Shape", (("cube", "cube"), ("cylinder", "cylinder"), ("block", "block"))
CUBES_TABLE = "Cubes of this pour, as written"
CUBES_HEADS = ("", "size", "age", "mass when crushed", "greatest load", "mass after drying", "")
MANY_CUBES, AS_ABOVE = "Add many cubes, of several pours", "as above"
MANY_CUBES_ABOUT = (
    "A row for each cube, as they come from the press. An empty pour is that of the row above, an empty age that of "
    "the same pour's cube above. Rows without mass and load are left out; another row appears below the last filled."
)
CORRECT, SAVE_CORRECTION, TAKE_OUT, CLOSE = "correct", "Save the correction", "Take out", "Close"
SETTLEMENT, SAVE_SETTLEMENT, TOP, BY = "Add the rise or sink after 24 h", "Save rise or sink", "The top", "By"
SETTLED = (("sank", "sank"), ("rose", "rose"))
NOT_WRITTEN, NO_CUBE = "not written", "the button names no cube"
NO_CARD = "No card"
GROUPS = {
    "form": "Form",
    "concrete": "Concrete",
    "mixer": "Mixer and people",
    "foam": "Foam",
    "times": "Times of the work",
}
CHOICES = {"cast": "wet (as cast)", "dry": "oven-dry", "auto": "time, or bucket for short runs"}


def recorded(file: str) -> str:
    return f"Pour saved in pours/{file}"


def plan_lacks(entries: str) -> str:
    return f"{entries} to fill in or correct:"


def cautions(count: int) -> str:
    return f"{CAUTIONS} ({count})"


def law(density: str, specimens: int) -> str:
    return f"Strengths are those of {density}, calculated with {specimens} specimens of your own."


def bags(cement: str, count: float) -> str:
    return f"{cement} = {count:.1f} bags"


def buckets(size: str) -> str:
    return f"or level buckets of {size}"


def solution(dilution: object) -> str:
    return f"foam solution {dilution}, with reserve"


def outcome(dry: str, foam_share: float, water_cement: float) -> str:
    return (
        f"{dry} dry; foam fills {100 * foam_share:.0f} % of the volume, water to cement {water_cement:.2f} with the "
        "foam's water."
    )


def runs_in_all(time: str) -> str:
    return f" In all, the generator runs for {time}."


def runs_more(time: str) -> str:
    return f" The generator runs for {time} more."


def cast(under: str) -> str:
    return f" cast ({under}), "


def minutes(time: str) -> str:
    return f"{time} min"


def cube(number: int) -> str:
    return f"Cube {number}"


def add_cubes(count: int) -> str:
    return "Add these cubes" if count == 0 else f"Add {counted(count, 'cube')}"


def dry(mass: str) -> str:
    return f"{mass} dry"


def correct_cube(number: int) -> str:
    return f"Correct cube {number}"


def pour_place(file: str) -> str:
    return f"File of this pour: pours/{file}; a cube is an entry [[specimen]] in it, the settlement is in [cast]."


def pour_file(name: str) -> str:
    return f"File of this pour: pours/{name}.toml"


def jar_place(name: str) -> str:
    return f"File of this jar: jars/{name}.toml"


def settled_as(key: str, depth: str) -> str:
    return f"Written: {key} {depth} in 24 h. A new entry replaces it."


def was(text: str) -> str:
    return f"was: {text or NOT_WRITTEN}"
