"""Wrong input to race trim, parts, comparison, axle lift and the check before an event.

As in test_bad_input.py: exit status 2, nothing on standard output, and these very lines; all faults
of all files and options are told in one go.
"""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from tests.cli.conftest import GARAGE, Run
from tests.cli.test_bad_input import blocks, edited

pytestmark = pytest.mark.usefixtures("garage")

GOOD = ("302", "288.5", "231", "244")

CAR = r"""
## a maximum below the minimum
- minimum = 1090
+ minimum = 1090
+ maximum = 1000
car.toml:66: class.maximum: 1000 kg is below the minimum, 1090 kg: check both

## wheels and axles above the minimum
- minimum = 1090
+ minimum = 1090
+ maximum = 1100
+ wheel_minimum = 300
+ axle_minimum = [600, 600]
car.toml:67: class.wheel_minimum: four times 300 kg is more than the minimum, 1090 kg: give what the rules ask of one wheel
car.toml:68: class.axle_minimum: both together are more than the minimum, 1090 kg: give what the rules ask of each axle

## wheels and axles above the maximum
- minimum = 1090
+ maximum = 1000
+ wheel_minimum = 260
+ axle_minimum = [600, 500]
- shortfall_chance_pct = 1    # of being light on the scrutineer's scale
+
car.toml:66: class.wheel_minimum: four times 260 kg is more than the maximum, 1000 kg: give what the rules ask of one wheel
car.toml:67: class.axle_minimum: both together are more than the maximum, 1000 kg: give what the rules ask of each axle

## power alone
- minimum = 1090
+ minimum = 1090
+ power = 200
car.toml:66: class.power: given, but there is no mass_per_power: give mass_per_power too

## mass for the power of nothing
- minimum = 1090
+ minimum = 1090
+ mass_per_power = 5
car.toml:66: class.mass_per_power: given, but there is no power: give power too

## a maximum that the power forbids
- minimum = 1090
+ maximum = 900
+ power = 200
+ mass_per_power = 5
car.toml:65: class.maximum: 900 kg is below power × mass_per_power, 1000 kg: check all three

## a margin and a chance
- minimum = 1090
+ minimum = 1090
+ margin = 3
car.toml:69: class.shortfall_chance_pct: given beside margin: give one or the other

## a margin beyond the maximum
- minimum = 1090
+ minimum = 1090
+ maximum = 1092
- shortfall_chance_pct = 1    # of being light on the scrutineer's scale
+ margin = 3
car.toml:69: class.margin: with the minimum it makes 1093 kg, the maximum is 1092 kg: give a smaller one

## a margin of most of the car
- minimum = 1090
+ minimum = 1090
- shortfall_chance_pct = 1    # of being light on the scrutineer's scale
+ margin = 1000
car.toml:68: class.margin: 1000 kg is more than half the minimum: give only what to be above the minimum by

## a chance of nothing
- minimum = 1090
+
car.toml:68: class.shortfall_chance_pct: given, but there is no minimum: give minimum too

## more than even odds of being light
- shortfall_chance_pct = 1
+ shortfall_chance_pct = 60
car.toml:68: class.shortfall_chance_pct: 60 is out of reason: expected 0.001 to 49

## weighed after the race with more than the reserve
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["driver", "fuel=5"]
car.toml:66: class.weighed_with: fuel is above its reserve, 4 L, but moment is "after": leave out the amount, or write moment = "before"

## amounts in race trim that can't be
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["driver=900", "fuel=50", "spar"]
car.toml:66: class.weighed_with: “spar” is not in [[on_board]]: did you mean spare wheel?
car.toml:66: class.weighed_with driver: 900 is out of reason: expected 300 kg at most
car.toml:66: class.weighed_with fuel: the tank holds 42 L: give that at most

## an amount left out
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["driver", "fuel="]
car.toml:66: class.weighed_with fuel: has no amount after =: write fuel=20, or fuel alone for what the car file says

## nothing, spelled out
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["none"]
car.toml:66: class.weighed_with: “none” among names: for the empty car write none alone, in a file []

## another moment
- moment = "after"
+ moment = "later"
car.toml:67: class.moment: “later” is not known: write "before" or "after"

## more than the tank holds
- volume = 8
+ volume = 80
car.toml:50: on_board[2].volume: 80 is more than the tank holds, 42: check both

## a fluid with a mass
- volume = 8
+ volume = 8
+ mass = 4
car.toml:51: on_board[2].mass: “fuel” has both mass and volume: give one of them

## an item without a name
- name = "spare wheel"
+
car.toml:57: on_board[3].name: is missing: add it: what it is

## an item without a mass
- mass = 14
+
car.toml:58: on_board[3].name: “spare wheel” has no mass: give mass, or volume of a fluid

## an item without a place, and race trim with too much in it
- aft = 2710
+
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["driver=900", "fuel"]
car.toml:57: on_board[3].aft: is missing: add it: behind the front axle
car.toml:66: class.weighed_with driver: 900 is out of reason: expected 300 kg at most

## a tank for a wheel
- mass = 14
+ mass = 14
+ tank = 4
car.toml:60: on_board[3].tank: given, but “spare wheel” has no volume: give volume too

## all told
- mass = 14
+ mass = 14
+ tank = 4
- minimum = 1090
+ minimum = 1090
+ maximum = 1000
+ power = 200
- weighed_with = ["driver", "fuel"]
+ weighed_with = ["driver", "x"]
car.toml:60: on_board[3].tank: given, but “spare wheel” has no volume: give volume too
car.toml:67: class.maximum: 1000 kg is below the minimum, 1090 kg: check both
car.toml:68: class.power: given, but there is no mass_per_power: give mass_per_power too
car.toml:69: class.weighed_with: “x” is not in [[on_board]]: known here: driver, fuel, spare wheel
"""  # noqa: E501

BOOK = r"""
## a mass and pads
- mass = 15.5
+ mass = 15.5
+ pads = [3]
book.toml:23: part[3].mass: “battery” has both mass and pads: give one of them

## no mass
- mass = 15.5
+
book.toml:22: part[3].name: “battery” has neither mass nor pads: give one of them

## a plate that weighs more than what is on it
- less = 6
+ less = 200
book.toml:5: part[1].pads: leaves nothing of the part: check pads, tare and less

## one tare for two pads
- tare = [1.5, 1.5]           # plywood under it
+ tare = [1.5]
book.toml:6: part[1].tare: is not as long as pads: give one tare a pad

## one name for two parts
- name = "alloy engine"
+ name = "iron engine"
book.toml:13: part[2].name: “iron engine” is there twice: give each its own name
book.toml:31: variant[1].on: “alloy engine” is not in the book: known here: iron engine, battery
book.toml:36: variant[2].on: “alloy engine” is not in the book: known here: iron engine, battery

## a variant with a stranger
- on = ["alloy engine"]
+ on = ["aloy engine"]
book.toml:31: variant[1].on: “aloy engine” is not in the book: did you mean alloy engine?

## off twice, and on again
- off = ["iron engine"]
- on = ["alloy engine"]
+ off = ["iron engine", "iron engine"]
+ on = ["iron engine"]
book.toml:30: variant[1].off: “iron engine” is there twice: name each once
book.toml:31: variant[1].on: “iron engine” goes off and on: leave both out, or move it

## moved nowhere, and moved though it goes
- move = [{ part = "battery", aft = 2480, left = -310 }]
+ move = [{ part = "battery" }, { part = "iron engine", aft = 3 }]
book.toml:37: variant[2].move[1].part: “battery” is moved nowhere: say where: aft, left, up
book.toml:37: variant[2].move[2].part: “iron engine” is moved and goes off: say one of them

## a part off the car
- aft = -250
+ aft = -3000
book.toml:24: part[3].aft: “battery” is nowhere near the car: expected -2405 to 4810 mm

## a part on the next car
- left = 420
+ left = 1600
book.toml:25: part[3].left: “battery” is nowhere near the car: expected -1450 to 1450 mm

## a part in the next town
- aft = -250
+ aft = -25000
book.toml:24: part[3].aft: -25000 mm is out of reason: expected -10000 to 20000 mm

## moved off the car
- aft = 2480, left = -310
+ aft = 7900, left = -1900
book.toml:37: variant[2].move[1].aft: “battery” is nowhere near the car: expected -2405 to 4810 mm
book.toml:37: variant[2].move[1].left: “battery” is nowhere near the car: expected -1450 to 1450 mm

## in the other units
- [[part]]
+ units = "us"
+ [[part]]
book.toml:3: units: "us", but part[1].up and 5 others are in "metric" units: write units = "metric"
"""

LIFTS = r"""
## springs left free
- blocked = true
+ blocked = false
lifts.toml:5: blocked: the suspension was free to move: block it (solid links for dampers) and weigh again: free springs spoil the result

## lifted on its nose
- height = 550
+ height = 1300
lifts.toml:19: lift[3].height: 1300 mm is half the wheelbase or more: give how far the wheel centers were lifted

## the wrong pads
- stays = [308.5, 294.0]
+ stays = [608.5, 594.0]
lifts.toml:20: lift[3].stays: carries the whole car or more: give the two pads of the axle that stayed on them

## pads that show nothing
- stays = [308.5, 294.0]
+ stays = [308.5, 0]
lifts.toml:20: lift[3].stays right: reads 0: is the wheel on its pad, and the pad switched on?

## an axle in other words
- axle = "rear"
+ axle = "back"
lifts.toml:8: lift[1].axle: “back” is not known: write "front" or "rear"

## a lift in inches
- height = 250
+ height = 9.8
lifts.toml:9: lift[1].height: 9.8 mm is out of reason, 9.8 in is not: write 248.9, or units = "us"

## no lift at all
- height = 250
+ height = 0
lifts.toml:9: lift[1].height: is zero: give its true value

## a radius for each wheel
- tire_radius = [292, 295]
+ tire_radius = [292, 295, 292, 295]
lifts.toml:4: tire_radius: has 4 values: give 2: loaded radius of front and rear tires (a decimal takes a point, not a comma)

## level in pounds
- level = [300.0, 286.5, 230.0, 242.5]
+ level = [661, 631, 507, 534]
lifts.toml:3: level: 2333 kg in all is 2.1 times the minimum, in lb it fits: write units = "us"

## a pad pulled up
- level = [300.0, 286.5, 230.0, 242.5]
+ level = [300.0, -286.5, 230.0, 242.5]
lifts.toml:3: level RF: reads -286.5: a pad can't be pulled up: zero it and read again
"""  # noqa: E501

SHARES = r"""
## a total in pounds
- total = 1065.5
+ total = 2350
shares.toml:2: total: 2350 kg in all is 2.2 times the minimum, in lb it fits: write units = "us"

## a total of no car
- total = 1065.5
+ total = 10.5
shares.toml:2: total: 10.5 kg in all is no car's weight: check the four numbers

## shares that make more than the car
- rear_pct = 44.5
+ rear_pct = 45.5
shares.toml:4: rear_pct: front and rear add up to 100.9: they make 100 but for a digit cut off

## a share as a fraction
- front_pct = 55.4
+ front_pct = 0.554
shares.toml:3: front_pct: 0.554 looks like a fraction: write 55.4, in percent

## shares beside readings
- total = 1065.5
+ total = 1065.5
+ readings = [[302, 288.5, 231, 244]]
shares.toml:2: total: given beside readings: give one or the other

## a total without its front share
- front_pct = 55.4
+
shares.toml: front_pct: is missing: add it: it goes with total

## shares without a total
- total = 1065.5
+
shares.toml: readings: is missing: add it: one list [LF, RF, LR, RR]

## shares that lift a wheel
- cross_pct = 48.8
+ cross_pct = 98
shares.toml:6: cross_pct: leaves RR -1.7 % of the weight: check it
"""

LINES = r"""
$ balancer trim fueled.toml 302 288.5 231 244 --to fuel=
--to fuel: has no amount after =: write fuel=20, or fuel alone for what the car file says

$ balancer trim fueled.toml 302 288.5 231 244 --to =20
--to: a name is missing: write it like fuel=20

$ balancer trim fueled.toml 302 288.5 231 244 --to driver=5000
--to driver: 5000 is out of reason: expected 300 kg at most

$ balancer trim fueled.toml 302 288.5 231 244 --to driver=1000lb
--to driver: 1000lb is out of reason: expected 300 kg at most

$ balancer trim roadster.toml 520 498 455 462 --to driver=700
--to driver: 700 is out of reason: expected 661 lb at most

$ balancer trim fueled.toml 302 288.5 231 244 --to driver,fuel=1,5
--to fuel: 1,5 has a decimal comma: write 1.5

$ balancer trim fueled.toml 302 288.5 231 244 --to fuel=1,5L,driver
--to fuel: 1,5L has a decimal comma: write 1.5L

$ balancer trim fueled.toml 302 288.5 231 244 --to driver,fuel=43
--to fuel: the tank holds 42 L: give that at most

$ balancer trim fueled.toml 302 288.5 231 244 --to fuel=32kg
--to fuel: the tank holds 42 L: give that at most

$ balancer trim fueled.toml 302 288.5 231 244 --to driver,fuel=-3
--to fuel: -3 is negative: leave out the minus sign

$ balancer trim fueled.toml 302 288.5 231 244 --to fuel=20mm
--to fuel: “mm” is not a unit for this: known here: l, gal, kg, lb

$ balancer trim fueled.toml 302 288.5 231 244 --to driver=20L
--to driver: “L” is not a unit for this: known here: kg, lb

$ balancer trim fueled.toml 302 288.5 231 244 --to fuel=lots,driver=nan
--to fuel: “lots” is not a number: write it like fuel=20
--to driver: nan is not a number: write it like driver=20

$ balancer trim fueled.toml 302 288.5 231 244 --to fuel,fuel=3
--to: “fuel” is there twice: name each once

$ balancer trim fueled.toml 302 288.5 231 244 --to fule
--to: “fule” is not in the car file: did you mean fuel?

$ balancer trim fueled.toml 302 288.5 231 244 --to none,driver
--to: “none” among names: for the empty car write none alone, in a file []

$ balancer trim fueled.toml 302 288.5 231 244 --to driver, fuel=12
--to: “driver,” ends in a comma: write the names without blanks, or in quotes
reading 5: “fuel=12” is not a number: write 12

$ balancer trim fueled.toml 302 288.5 231 244 --to
--to: has no value after it: give one, see balancer trim --help

$ balancer trim fueled.toml 302 288.5 231 244 --to --json
--to: has no value after it: give names, or none

$ balancer trim fueled.toml 302 x 231 244 --to diver,fuel=50 --weighed-with fuel= --jsn
--jsn: unknown option: did you mean --json?
RF: “x” is not a number: write a number like 310.5
--weighed-with fuel: has no amount after =: write fuel=20, or fuel alone for what the car file says
--to: “diver” is not in the car file: did you mean driver?
--to fuel: the tank holds 42 L: give that at most

$ balancer trim fueled.toml 666 636 509 538 --to diver
readings: 2349 kg in all is 2.2 times the minimum, in lb it fits: write each with its unit, as 640lb
--to: “diver” is not in the car file: did you mean driver?

$ balancer trim fueled.toml --readings no.toml --to diver
no.toml: no such file: check the name and the folder
--to: “diver” is not in the car file: did you mean driver?

$ balancer weigh fueled.toml 302 288.5 231 244 --weighed-with diver
--weighed-with: “diver” is not in the car file: did you mean driver?

$ balancer check fueled.toml --weighed-with driver
readings: got 0 numbers: give four: LF RF LR RR, or --readings FILE

$ balancer stint fueled.toml 302 288.5 231 244 --from fuel=2
--from fuel: 2 L is no more than the reserve, 4 L: start with more, or mend the car file

$ balancer stint fueled.toml 302 288.5 231 244 --from fuel=50 --cross 0.5
--cross: 0.5 looks like a fraction: give it in percent
--from fuel: the tank holds 42 L: give that at most

$ balancer stint fueled.toml 302 288.5 231 244 --fluid feul --from diver
--from: “diver” is not in the car file: did you mean driver?
--fluid: “feul” is no fluid of this car: did you mean fuel?

$ balancer stint coupe.toml 302 288.5 231 244
--fluid: “fuel” is no fluid of this car: give one in [[on_board]] a volume

$ balancer stint fueled.toml 302 288.5 231 244 --fluid 'spare wheel'
--fluid: “spare wheel” is no fluid of this car: known here: fuel

$ balancer prep fueled.toml 302 288.5 231 244 --next diver,fuel=99 --cross 5 --front 0.5 --tolerance x
--cross: 5 is out of range: expected 20 to 80
--front: 0.5 looks like a fraction: give it in percent
--tolerance: “x” is not a number: write a number, 0.01 to 10
--next: “diver” is not in the car file: did you mean driver?
--next fuel: the tank holds 42 L: give that at most

$ balancer prep no.toml 302 288.5 231 --next x --cross 0.5
--cross: 0.5 looks like a fraction: give it in percent
no.toml: no such file: check the name and the folder
readings: got 3 numbers: give four: LF RF LR RR, or --readings FILE

$ balancer stint fueled.toml 302 288.5 231 244 --to driver
--to: is no option of stint: it belongs to balancer perches, ballast, trim, prep, sheet
reading 5: “driver” is not a number: write a number like 310.5

$ balancer parts fueled.toml 302 288.5 231 --off x --off x
readings: got 3 numbers: give four: LF RF LR RR, or --readings FILE
--book: is missing: give it, see balancer parts --help
parts: “x” goes off more than once: say it once

$ balancer parts no.toml 302 288.5 231 244 --book none.toml --variant x
no.toml: no such file: check the name and the folder
none.toml: no such file: check the name and the folder

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --off battery --off battery
parts: “battery” goes off more than once: say it once

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --off battery --on battery
parts: “battery” goes off and on: leave both out

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --exchange battery=battery
--exchange: “battery” for itself: name two parts

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --exchange battery --exchange =battery
--exchange: “battery” is not OLD=NEW: write both names
--exchange: “=battery” is not OLD=NEW: write both names

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --exchange 'iron engine=alloy engine' --off 'iron engine'
parts: “iron engine” goes off more than once: say it once

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --off driver
--off: “driver” is in [[on_board]], not in the book (parts.toml): balancer trim takes it off and on

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --off batery --on x --exchange battery=y --variant atf
--off: “batery” is not in the book (parts.toml): did you mean battery?
--on: “x” is not in the book (parts.toml): known here: iron engine, alloy engine, battery
--exchange: “y” is not in the book (parts.toml): known here: iron engine, alloy engine, battery
--variant: “atf” is not in the book (parts.toml): did you mean aft?

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --variant aft --variant aft
--variant: “aft” is there twice: name each once

$ balancer parts fueled.toml 302 288.5 231 244 --book parts.toml --variant aft --against battery
--against: given beside changes: give one or the other

$ balancer parts fueled.toml 302 288,5 231 244 --book coupe.toml --weighed-with diver
RF: 288,5 has a decimal comma: write 288.5
--weighed-with: “diver” is not in the car file: did you mean driver?
coupe.toml: is a car file: give a parts book here, and each file in its place

$ balancer compare coupe.toml
READINGS: got 0: give two readings files or more

$ balancer compare no.toml may.toml none.toml --book nobook.toml --other-car other.toml
--book: goes with --variant: give both or none
no.toml: no such file: check the name and the folder
other.toml: no such file: check the name and the folder
none.toml: no such file: check the name and the folder
nobook.toml: no such file: check the name and the folder

$ balancer compare fueled.toml may.toml june.toml --variant aft
--book: goes with --variant: give both or none

$ balancer compare fueled.toml may.toml coupe.toml --book parts.toml --variant atf
coupe.toml: is a car file: give a readings file here, and each file in its place
--variant: “atf” is not in the book (parts.toml): did you mean aft?

$ balancer compare coupe.toml may.toml june.toml
may.toml:5: on_board: “fuel” is not in the car file: known here: driver, spare wheel
june.toml:5: on_board: “fuel” is not in the car file: known here: driver, spare wheel

$ balancer lift no.toml none.toml
no.toml: no such file: check the name and the folder
none.toml: no such file: check the name and the folder

$ balancer lift fueled.toml parts.toml
parts.toml: is a parts book: give a file of lifts here, and each file in its place

$ balancer ballast roadster.toml 520 498 455 462 --tolerance x --weighed-with diver
--tolerance: “x” is not a number: write a number, 0 to 10
--weighed-with: “diver” is not in the car file: did you mean driver?
"""  # noqa: E501


def write(garage: Path, base: str, name: str, lines: list[str]) -> str:
    """Write a file of the garage with the edits of a block; give what stderr should say."""
    text, said = edited((GARAGE / base).read_text(encoding="utf-8"), lines)
    (garage / name).write_text(text, encoding="utf-8")
    return said


@pytest.mark.parametrize(("title", "lines"), blocks(CAR, "##"))
def test_a_car_file(title: str, lines: list[str], run: Run, garage: Path) -> None:
    said = write(garage, "fueled.toml", "car.toml", lines)
    assert run("weigh", "car.toml", *GOOD) == (2, "", said)
    assert run("trim", "car.toml", *GOOD, "--to", "none") == (2, "", said)


@pytest.mark.parametrize(("title", "lines"), blocks(BOOK, "##"))
def test_a_parts_book(title: str, lines: list[str], run: Run, garage: Path) -> None:
    said = write(garage, "parts.toml", "book.toml", lines)
    assert run("parts", "fueled.toml", *GOOD, "--book", "book.toml") == (2, "", said)
    compared = "compare fueled.toml may.toml june.toml --book book.toml --variant aft"
    assert run(compared) == (2, "", said)


@pytest.mark.parametrize(("title", "lines"), blocks(LIFTS, "##"))
def test_a_file_of_lifts(title: str, lines: list[str], run: Run, garage: Path) -> None:
    said = write(garage, "lifts.toml", "lifts.toml", lines)
    assert run("lift fueled.toml lifts.toml") == (2, "", said)


@pytest.mark.parametrize(("title", "lines"), blocks(SHARES, "##"))
def test_a_file_of_shares(title: str, lines: list[str], run: Run, garage: Path) -> None:
    said = write(garage, "shares.toml", "shares.toml", lines)
    assert run("weigh fueled.toml --readings shares.toml") == (2, "", said)
    assert run("compare fueled.toml may.toml shares.toml") == (2, "", said)


@pytest.mark.parametrize(("line", "said"), blocks(LINES, "$ balancer"))
def test_a_command_line(line: str, said: list[str], run: Run, garage: Path) -> None:
    before = sorted(garage.rglob("*"))
    assert run(*shlex.split(line)) == (2, "", "\n".join(said).rstrip() + "\n")
    assert sorted(garage.rglob("*")) == before


def test_a_solid_may_weigh_three_times_what_the_file_says(run: Run, garage: Path) -> None:
    write(garage, "fueled.toml", "car.toml", ["- mass = 14", "+ mass = 310", "x"])
    trim = ("trim", "car.toml", *GOOD, "--json", "--to")
    assert run(*trim, "spare wheel=930").status == 0
    said = "--to spare wheel: 931 is out of reason: expected 930 kg at most\n"
    assert run(*trim, "spare wheel=931") == (2, "", said)


def test_a_tank_of_unknown_size_is_no_bottomless_one(run: Run, garage: Path) -> None:
    write(garage, "fueled.toml", "car.toml", ["- tank = 42", "+", "x"])
    said = "--to fuel: 501 is out of reason: expected 500 L at most\n"
    assert run("trim", "car.toml", *GOOD, "--to", "fuel=501") == (2, "", said)


NOTES = [
    (
        "parts fueled.toml 302 288.5 231 244 --book bumper.toml --off battery",
        "note: bumper.toml:24: part[3].aft: “battery” is beyond the bumpers of most cars\n",
    ),
    (
        "compare fueled.toml may.toml june.toml --book bumper.toml --variant aft",
        "note: bumper.toml:24: part[3].aft: “battery” is beyond the bumpers of most cars\n",
    ),
    (
        "trim dry.toml 302 288.5 231 244",
        "note: dry.toml:49: on_board[2].name: “fuel” has no reserve: after the race it is taken"
        " as used up\n",
    ),
    (
        "ballast fueled.toml 302 288.5 231 244 --minimum 2400",
        "note: --minimum: 2400 kg is 2.3 times what the car weighs: if it is lb, write 2400lb\n",
    ),
    (
        "ballast roadster.toml 520 498 455 462 --minimum 900",
        "note: --minimum: 900 lb is 0.47 times what the car weighs: if it is kg, write 900kg\n",
    ),
    ("ballast fueled.toml 302 288.5 231 244 --minimum 2400lb", ""),
    ("ballast fueled.toml 302 288.5 231 244 --minimum 1100", ""),
    ("ballast fueled.toml 302 288.5 231 244 --minimum 4000", ""),
]


@pytest.mark.parametrize(("line", "said"), NOTES)
def test_what_is_odd_is_remarked_on(line: str, said: str, run: Run, garage: Path) -> None:
    write(garage, "parts.toml", "bumper.toml", ["- aft = -250", "+ aft = -1250", "x"])
    write(garage, "fueled.toml", "dry.toml", ["- reserve = 4", "+", "x"])
    status, out, err = run(line)
    assert status in (0, 1)
    assert out
    assert err == said


@pytest.mark.parametrize("table", [CAR, BOOK, LIFTS, SHARES, LINES])
def test_every_line_says_where_what_and_the_way_out(table: str) -> None:
    mark = "$ balancer" if table is LINES else "##"
    for title, lines in blocks(table, mark):
        said = lines if table is LINES else [one for one in lines if one[:2].rstrip() not in "+-"]
        assert [line for line in said if line], title
        for line in filter(None, said):
            assert len([part for part in line.split(": ") if part]) >= 3, title
