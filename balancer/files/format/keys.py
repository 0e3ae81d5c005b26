"""Every key of a car file: kind, range, meaning; those of files beside it are in `beside_keys`.

The tables are the one description of the files. From them come the validation, the JSON
Schema, the words of every fault, and the values in SI. Ranges are in SI and as wide as anything on
four wheels that goes on scales; what lies outside is a slip of the keyboard or of the units.
"""

from functools import partial

from balancer.car.conventions import GRAVITY
from balancer.files.format.rows import number_or_rows, points
from balancer.files.format.value_types import (
    AXLE,
    COUNT,
    COUNTED,
    FLAG,
    MOMENT,
    MOST_COUNTED,
    MOTION_RATIO,
    NAME,
    PERCH_STEP,
    SHARE,
    STEP,
    UNITS,
    Field,
    point_or_range,
    quantity,
    several,
    table,
    turns_left,
)

number, length, mass, load, rate = (
    partial(quantity, dimension) for dimension in ("number", "length", "mass", "load", "rate")
)

AFT, LEFT, UP = length(-3, 8), length(-2, 2), length(0, 2.5)
MASS, LIMIT, _VOLUME = mass(0.01, 3000), mass(0, 5000), quantity("volume", 0, 0.5)
_TRAVEL, _LEAD = length(0, 0.5), length(1e-4, 8e-3)
NAMES = several(NAME, 0, 100)
_RATES, _RATIOS = "[compression from which, rate]", "[wheel travel, ratio], bump positive"
_FROM_NOW = "turns left, down (≤ 0) and up (≥ 0), from where it stands now"

CORNER_FIELDS = {
    "spring_rate": Field(
        number_or_rows(rate(1e3, 2e6), 0.5, True, _RATES, 4e-3),
        f"spring rate, or rows {_RATES}; left out with motion_ratio: unsprung (kart)",
    ),
    "spring_ramp": Field(
        FLAG, "true: the spring rate goes straight from row to row; left out: in steps"
    ),
    "motion_ratio": Field(
        number_or_rows(MOTION_RATIO, 0.3, False, _RATIOS, 4e-3),
        "spring travel / wheel travel, or rows [wheel travel from where it stands, ratio]",
    ),
    "tender_rate": Field(rate(100, 2e6), "of a tender or helper spring on top of the main one"),
    "tender_travel": Field(length(1e-3, 0.3), "of the tender, from free to solid"),
    "preload": Field(
        _TRAVEL,
        "compression of the spring, with a tender of both together, with the shock fully extended;"
        " left out: 0",
    ),
    "shock_travel": Field(
        _TRAVEL, "how far the shock is closed as weighed, 0: fully extended; left out: by preload"
    ),
    "droop_stop_rate": Field(
        rate(1e4, 1e9), "at the shock, of what stops it at full droop; left out: solid"
    ),
    "bump_stop": Field(_TRAVEL, "shock travel at which the bump stop is touched"),
    "bump_stop_rate": Field(
        number_or_rows(rate(1e3, 1e8), 0.3, True, _RATES, 1e-3),
        "of the bump stop, or rows [its compression from which, rate]",
    ),
    "bump_stop_ramp": Field(
        FLAG, "true: the bump stop's rate goes straight from row to row; left out: in steps"
    ),
    "bump_stop_force": Field(
        points(quantity("force", 0, 1e6), 0.3, "[its compression, force]", 1e-3),
        "instead of bump_stop_rate: points [its compression, force], the first [0, 0]; straight"
        " between, and on as between the last two",
    ),
    "mount_lead": Field(
        _LEAD, "travel of an adjustable lower mount in one turn; left out: it can't be turned"
    ),
    "mount_step": Field(STEP, 'smallest move in turns, 0.25 or "1/6"; left out: 0.25'),
    "mount_travel": Field(turns_left("the mount", "down", "up"), _FROM_NOW),
    "tire_rate": Field(rate(3e4, 5e6), "vertical tire rate; left out: rigid"),
    "unsprung_mass": Field(mass(0, 250), "of this corner"),
    "perch_lead": Field(
        _LEAD,
        "perch travel in one turn, on an unsprung axle one spacer; left out: no threaded perch",
    ),
    "perch_count": Field(
        COUNTED,
        'what is counted at the perch, and so in perch_step and perch_travel: "6 flats" (of its'
        ' nut, in one turn), "8 clicks" or "mm" of thread; left out: turns',
    ),
    "perch_step": Field(
        PERCH_STEP,
        'smallest move in turns, 0.25 or "1/6"; left out: 0.25, on an unsprung axle 1 spacer',
    ),
    "perch_travel": Field(turns_left("the perch", "down", "up", MOST_COUNTED), _FROM_NOW),
}
AXLE_FIELDS = {
    "track": Field(length(0.5, 2.6), "contact patch to contact patch", True),
    **CORNER_FIELDS,
    "anti_roll_bar": Field(
        rate(0, 1e6), "at the wheel, one wheel against the other; 0: disconnected"
    ),
    "bar_connected": Field(
        FLAG, "false: the bar is off on the pads and goes on for the race; left out: true"
    ),
    "link_ratio": Field(number(0.1, 2), "travel of a drop link's end / wheel travel; left out: 1"),
    "link_hangs": Field(
        FLAG,
        "true: the drop links hang from the struts, with the bar at their lower ends; left out:"
        " they stand on the arms, with the bar at their upper ends",
    ),
    "link_misfit": Field(
        length(-0.1, 0.1),
        "how much too long the left link is with one end undone, the car on the pads; left out: 0",
    ),
    "link_twist": Field(
        length(-0.1, 0.1),
        "instead of link_misfit: how much higher the left end of the bar stands than the right,"
        " against the body, with nothing undone",
    ),
    "link_lead": Field(
        _LEAD, "how much longer one turn makes the left link; left out: it can't be turned"
    ),
    "link_step": Field(STEP, 'smallest move in turns, 0.5 or "1/6"; left out: 0.5'),
    "link_travel": Field(
        turns_left("the link", "shorter", "longer"), "turns left, shorter (≤ 0) and longer (≥ 0)"
    ),
}
_LINEAR_KEYS = """track spring_rate motion_ratio tire_rate unsprung_mass anti_roll_bar perch_lead
perch_count perch_step perch_travel"""
NONLINEAR_KEYS = frozenset(AXLE_FIELDS) - set(_LINEAR_KEYS.split())
"""Keys of corners and axles that a linear car does without."""
BODY_FIELDS = {
    "cg_up": Field(length(0.1, 1.5), "height of the center of gravity; left out: not known"),
    "torsional_stiffness": Field(
        quantity("torsion", 500, 1e8), "of the chassis between the axles; left out: rigid"
    ),
}
SCALES_FIELDS = {
    "accuracy_pct": Field(number(0, 10), "of reading, standard uncertainty, each pad on its own"),
    "common_accuracy_pct": Field(
        number(0, 10), "of reading, standard uncertainty, the part all pads share"
    ),
    "resolution": Field(load(0, 50 * GRAVITY), "smallest step of the display"),
    "repeatability": Field(load(0, 100 * GRAVITY), "scatter of one reading, standard deviation"),
    "level": Field(
        length(0, 0.05), "how level the pads stand, standard uncertainty of each; left out: 1 mm"
    ),
}
ITEM_FIELDS = {
    "name": Field(NAME, "what it is", True),
    "mass": Field(MASS, "mass; of a fluid give the volume instead"),
    "volume": Field(_VOLUME, "of a fluid, what is usually on board"),
    "density": Field(quantity("density", 300, 2500), "of a fluid; left out: gasoline, 0.7475 kg/L"),
    "tank": Field(_VOLUME, "most that the tank holds"),
    "reserve": Field(_VOLUME, "what is left in the tank after a race"),
    "aft": Field(AFT, "behind the front axle", True),
    "left": Field(LEFT, "left of the centerline", True),
    "up": Field(UP, "above the ground"),
}
CLASS_FIELDS = {
    "minimum": Field(LIMIT, "minimum weight in race trim"),
    "maximum": Field(LIMIT, "most mass in race trim"),
    "margin": Field(LIMIT, "how far above the minimum to be"),
    "shortfall_chance_pct": Field(
        number(0.001, 49), "instead of margin: allowed chance of being under on another scale"
    ),
    "scale_accuracy_pct": Field(
        number(0, 5), "of that other scale, standard uncertainty; left out: 0.1"
    ),
    "weighed_with": Field(NAMES, "what is on board in race trim; an amount may follow: fuel=20"),
    "moment": Field(
        MOMENT, "before or after the race; after: fluids without an amount are at reserve"
    ),
    "power": Field(quantity("power", 1e3, 3e6), "of the engine, for mass_per_power"),
    "mass_per_power": Field(
        quantity("per_power", 1e-4, 0.1), "minimum weight for each unit of power"
    ),
    "front_pct": Field(point_or_range(SHARE), "front share, one number or a band"),
    "left_pct": Field(point_or_range(SHARE), "left share, one number or a band"),
    "cross_pct": Field(point_or_range(SHARE), "cross weight, one number or a band"),
    "axle_minimum": Field(several(LIMIT, 2), "minimum on the front and on the rear axle"),
    "wheel_minimum": Field(LIMIT, "minimum on any wheel"),
    "most_ballast": Field(LIMIT, "most ballast in all"),
}
TARGET_FIELDS = {
    "cross_pct": Field(number(20, 80), "cross weight wanted in race trim; left out: 50"),
    "equal": Field(AXLE, "instead: the axle whose two wheels are to carry the same"),
    "tolerance": Field(number(0.01, 10), "points of cross weight; left out: 0.2"),
    "height_tolerance": Field(length(1e-6, 0.1), "of the ride heights; left out: 1.5 mm"),
}
RACE_TRIM_FIELDS = {
    "name": Field(NAME, "what the race trim is called", True),
    "on_board": Field(NAMES, "what is on board then; an amount may follow: fuel=20", True),
}
PLACE_FIELDS = {
    "name": Field(NAME, "what the place is called", True),
    "aft": Field(point_or_range(AFT), "behind the front axle: point or range", True),
    "left": Field(point_or_range(LEFT), "left of the centerline: point or range", True),
    "up": Field(UP, "height of the ballast"),
    "most": Field(LIMIT, "most mass here"),
    "most_pieces": Field(COUNT, "most pieces here"),
}
PIECE_FIELDS = {
    "mass": Field(MASS, "mass of one piece, with its plate or box", True),
    "stock": Field(COUNT, "how many there are; left out: plenty"),
}
CAR_FIELDS = {
    "name": Field(NAME, "what the car is called", True),
    "units": Field(UNITS, "metric: kg, mm, N/mm, N·m/deg; us: lb, in, lb/in, lb·ft/deg", True),
    "wheelbase": Field(length(1.0, 5.0), "front axle to rear axle", True),
    "front": Field(table(AXLE_FIELDS), "the front axle, both corners", True),
    "rear": Field(table(AXLE_FIELDS), "the rear axle, both corners", True),
    "LF": Field(table(CORNER_FIELDS), "what differs at the left front"),
    "RF": Field(table(CORNER_FIELDS), "what differs at the right front"),
    "LR": Field(table(CORNER_FIELDS), "what differs at the left rear"),
    "RR": Field(table(CORNER_FIELDS), "what differs at the right rear"),
    "body": Field(table(BODY_FIELDS), "the body"),
    "scales": Field(table(SCALES_FIELDS), "what is known of the pads"),
    "on_board": Field(several(table(ITEM_FIELDS), 0, 200), "what comes and goes"),
    "class": Field(table(CLASS_FIELDS), "the rules the car must meet, in race trim"),
    "race_trim": Field(
        several(table(RACE_TRIM_FIELDS), 0, 20),
        "a race trim by name, where there is more than one; none: class.weighed_with",
    ),
    "target": Field(table(TARGET_FIELDS), "what the perches are to reach"),
    "place": Field(several(table(PLACE_FIELDS), 0, 200), "where ballast may go"),
    "piece": Field(several(table(PIECE_FIELDS), 0, 50), "what ballast there is; none: any mass"),
}
CAR_SCHEMA = table(CAR_FIELDS)

UNSAID = "# YOUR CAR'S"
"""What stands behind a number that nobody has given yet."""
