"""Wrong input of every kind: exit status 2, nothing on standard output, and these very lines.

Each fault is one line that names the place, what was found there and a way out; all faults of the
input are told in one go.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable
from pathlib import Path

import pytest

from balancer.car.errors import InputError
from balancer.cli.commands import COMMANDS
from balancer.files.format.keys import BODY_FIELDS, CAR_FIELDS
from balancer.files.starter import write_starter
from balancer.files.units import METRIC
from tests.cli.conftest import GARAGE, Run

pytestmark = pytest.mark.usefixtures("garage")

COUPE, WEIGH_IN = GARAGE / "coupe.toml", GARAGE / "weigh_in.toml"
GOOD = ("302", "288.5", "231", "244")

CAR = r"""
## a decimal comma
- wheelbase = 2405
+ wheelbase = 2405,5
car.toml:5: a decimal comma in “wheelbase = 2405,5”: write wheelbase = 2405.5

## a blank in a number
- spring_rate = 70
+ spring_rate = 1 000
car.toml:9: a blank in a number in “spring_rate = 1 000”: write spring_rate = 1000

## decimal commas and another fault, all told
- wheelbase = 2405
+ wheelbase = 2405,5
- track = 1450
+ track = 1450,5
- spring_rate = 70
+ spring_rate = 0
car.toml:5: a decimal comma in “wheelbase = 2405,5”: write wheelbase = 2405.5
car.toml:8: a decimal comma in “track = 1450,5”: write track = 1450.5
car.toml:9: front.spring_rate: is zero: give its true value

## a comma of thousands
- wheelbase = 2405
+ wheelbase = 2,405
car.toml:5: a comma (decimals take a point: 2.405) in “wheelbase = 2,405”: write wheelbase = 2405

## a decimal comma in a list
- perch_travel = [-8, 10]
+ perch_travel = [-8,5, 10]
car.toml:16: front.perch_travel: has 3 values: give 2: turns left, down (≤ 0) and up (≥ 0), from where it stands now (a decimal takes a point, not a comma)

## a unit behind a number
- wheelbase = 2405
+ wheelbase = 2405 mm
car.toml:5: a unit after the number in “wheelbase = 2405 mm”: write wheelbase = 2405

## a unit with a slash
- spring_rate = 70
+ spring_rate = 70 N/mm
car.toml:9: a unit after the number in “spring_rate = 70 N/mm”: write spring_rate = 70

## a decimal comma in quotes
- spring_rate = 70
+ spring_rate = "70,5"
car.toml:9: front.spring_rate: “70,5” is not a number: write 70.5, without quotes

## a word for a number
- spring_rate = 70
+ spring_rate = "hard"
car.toml:9: front.spring_rate: “hard” is not a number: write a number in N/mm, without quotes

## a number that begins with its point
- motion_ratio = 0.68
+ motion_ratio = .68
car.toml:10: a number that begins with its point in “motion_ratio = .68”: write motion_ratio = 0.68

## a number that ends in its point
- motion_ratio = 0.68
+ motion_ratio = 1.
car.toml:10: a number that ends in its point in “motion_ratio = 1.”: write motion_ratio = 1.0

## the inverse motion ratio
- motion_ratio = 0.68
+ motion_ratio = 1.47
car.toml:10: front.motion_ratio: 1.47 looks like wheel travel / spring travel: here it is spring travel / wheel travel, write 0.68

## a motion ratio in percent
- motion_ratio = 0.68
+ motion_ratio = 68
car.toml:10: front.motion_ratio: 68 is out of reason: expected 0.1 to 1.3, spring travel / wheel travel

## zero
- spring_rate = 70
+ spring_rate = 0
car.toml:9: front.spring_rate: is zero: give its true value

## zero for what may be left out
- tire_rate = 210
+ tire_rate = 0
car.toml:11: front.tire_rate: is zero: give its true value, or leave it out (rigid)

## nan
- spring_rate = 70
+ spring_rate = nan
car.toml:9: front.spring_rate: nan is not a number: give its true value

## infinity
- tire_rate = 210
+ tire_rate = inf
car.toml:11: front.tire_rate: inf is not a number: give its true value

## a minus sign
- wheelbase = 2405
+ wheelbase = -2405
car.toml:5: wheelbase: -2405 is negative: leave out the minus sign

## a minus sign from a word processor
- perch_travel = [-8, 10]
+ perch_travel = [−8, 10]
car.toml:16: quotes, signs or blanks that TOML does not know in “perch_travel = [−8, 10]”: write perch_travel = [-8, 10]

## quotes from a word processor
- name = "Heron Lane coupe"
+ name = “Heron Lane coupe”
car.toml:3: quotes, signs or blanks that TOML does not know in “name = “Heron Lane coupe””: write name = "Heron Lane coupe"

## a length in inches
- wheelbase = 2405
+ wheelbase = 94.7
car.toml:5: wheelbase: 94.7 mm is out of reason, 94.7 in is not: write 2405, or units = "us"

## a length in meters
- wheelbase = 2405
+ wheelbase = 2.405
car.toml:5: wheelbase: 2.405 mm is out of reason: expected 1000 to 5000 mm

## a lead in inches
- perch_lead = 1.5
+ perch_lead = 0.06
car.toml:14: front.perch_lead: 0.06 mm is out of reason, 0.06 in is not: write 1.524, or units = "us"

## all in the other units
- units = "metric"
+ units = "us"
car.toml:4: units: "us", but wheelbase and 16 others are in "metric" units: write units = "metric"

## units that there are not
- units = "metric"
+ units = "imperial"
car.toml:4: units: “imperial” is not known: write "metric" or "us"

## no units
- units = "metric"            # kg, mm, N/mm, N·m/deg
+
car.toml: units: is missing: add it: metric: kg, mm, N/mm, N·m/deg; us: lb, in, lb/in, lb·ft/deg

## a key misspelled
- wheelbase = 2405
+ wheelbse = 2405
car.toml:5: wheelbse: unknown key: did you mean wheelbase?

## a key in capitals
- tire_rate = 210
+ Tire_Rate = 210
car.toml:11: front.Tire_Rate: unknown key: did you mean tire_rate?

## a key that is British
- tire_rate = 210
+ tyre_rate = 210
car.toml:11: front.tyre_rate: unknown key: did you mean tire_rate?

## a key of another table
- cg_up = 465
+ cg_up = 465
+ spring_rate = 70
car.toml:34: body.spring_rate: unknown key: it belongs in [front], [rear], [LF], [RF], [LR] or [RR]

## a key that belongs at the top
- wheelbase = 2405
+
- track = 1450
+ wheelbase = 2405
+ track = 1450
car.toml:8: front.wheelbase: unknown key: it belongs above the first table

## a key that there is not
- cg_up = 465
+ cg_up = 465
+ paint = 3
car.toml:34: body.paint: unknown key: known here: {body keys}

## a table that there is not
- [body]
+ [engine]
car.toml:32: engine: unknown table: known here: {car keys}

## corner names the other way about
- [RR]
+ [FL]
car.toml:29: FL: unknown table: did you mean LF?

## no track
- track = 1450
+
car.toml:7: front.track: is missing: add it: contact patch to contact patch

## no rear axle
- [rear]
- track = 1430
- spring_rate = 62
- motion_ratio = 0.74
- tire_rate = 220
- unsprung_mass = 33
- anti_roll_bar = 0
- perch_lead = 1.5
- perch_step = 0.25
- perch_travel = [-6, 9]
+
car.toml: rear: is missing: add it: the rear axle, both corners

## an axle rate that one corner lacks
- spring_rate = 70
+
- [RR]
+ [LF]
+ spring_rate = 70
+
+ [RR]
car.toml:7: front.spring_rate: is missing: add it: spring rate

## a key twice
- wheelbase = 2405
+ wheelbase = 2405
+ wheelbase = 2400
car.toml:6: wheelbase: is there twice, first in line 5: keep one

## a table twice
- [rear]
+ [front]
car.toml:18: [front]: is there twice, first in line 7: keep one

## a list as a table
- [[on_board]]
+ [on_board]
car.toml:48: [[on_board]]: line 41 has [on_board]: write [[on_board]] each time

## a table as a list
- [body]
+ [[body]]
car.toml:32: body: a list of tables is not a table: write [body], in single brackets

## an only item as a table
- [[on_board]]
- name = "driver"
- mass = 78
- aft = 1420
- left = 340
- up = 400
+
- [[on_board]]
+ [on_board]
car.toml:43: on_board: a table is not a list in brackets: write [[on_board]], in double brackets

## an open heading
- [body]
+ [body
car.toml:32: a heading not as TOML has it in “[body”: write [body]

## a heading half closed
- [[place]]
+ [[place]
car.toml:61: a heading not as TOML has it in “[[place]”: write [[place]]

## an open quote
- name = "Heron Lane coupe"
+ name = "Heron Lane coupe
car.toml:3: a quote that is not closed in “name = "Heron Lane coupe”: write name = "Heron Lane coupe"

## no quotes
- name = "Heron Lane coupe"
+ name = Heron Lane coupe
car.toml:3: text without quotes in “name = Heron Lane coupe”: write name = "Heron Lane coupe"

## a backslash
- name = "Heron Lane coupe"
+ name = "C:\users"
car.toml:3: a backslash in double quotes in “name = "C:\users"”: write name = 'C:\users'

## an open list
- perch_travel = [-8, 10]
+ perch_travel = [-8, 10
car.toml:16: a list not as TOML has it in “perch_travel = [-8, 10”: write perch_travel = [-8, 10]

## a list without brackets
- perch_travel = [-8, 10]
+ perch_travel = -8, 10
car.toml:16: no brackets around a list in “perch_travel = -8, 10”: write perch_travel = [-8, 10]

## a list without commas
- perch_travel = [-8, 10]
+ perch_travel = [-8 10]
car.toml:16: a list not as TOML has it in “perch_travel = [-8 10]”: write perch_travel = [-8, 10]

## no value
- spring_rate = 70
+ spring_rate =
car.toml:9: no value in “spring_rate =”: write it, or leave the line out

## no equals sign
- spring_rate = 70
+ spring_rate 70
car.toml:9: no = in “spring_rate 70”: write spring_rate = 70

## a colon
- spring_rate = 70
+ spring_rate: 70
car.toml:9: a colon in place of = in “spring_rate: 70”: write spring_rate = 70

## a blank in a key
- spring_rate = 70
+ spring rate = 70
car.toml:9: a blank in a key in “spring rate = 70”: write spring_rate = 70

## a remark without its sign
- spring_rate = 70
+ spring_rate = 70
+ these are the soft ones
car.toml:10: expected '=' after a key in a key/value pair in “these are the soft ones”: a line reads: key = value; text goes in quotes, a remark behind #

## a date for a number
- wheelbase = 2405
+ wheelbase = 2026-05-09
car.toml:5: wheelbase: 2026-05-09 is not a number: write a number

## true for a number
- wheelbase = 2405
+ wheelbase = true
car.toml:5: wheelbase: true is not a number: write a number

## a list for a number
- spring_rate = 70
+ spring_rate = [70, 70]
car.toml:9: front.spring_rate: [70, 70] is not a number: write a number, or a list of rows [compression from which, rate]

## an inline table for a number
- spring_rate = 70
+ spring_rate = { left = 70 }
car.toml:9: front.spring_rate: a table is not a number: write a number

## faults inside an inline table
- [body]
- cg_up = 465
- torsional_stiffness = 5200
+
- wheelbase = 2405
+ wheelbase = 2405
+ body = { cg_up = 0, torsional = 5200 }
car.toml:6: body.cg_up: is zero: give its true value, or leave it out (not known)
car.toml:6: body.torsional: unknown key: did you mean torsional_stiffness?

## a dotted key and its table
- wheelbase = 2405
+ wheelbase = 2405
+ body.cg_up = 465
car.toml:33: [body]: is there twice: keep one

## a number too large for any car
- most_pieces = 2
+ most_pieces = 99999999999999999999
car.toml:74: place[2].most_pieces: 99999999999999999999 is out of reason: expected a whole number, 0 to 1000

## a fraction for a whole number
- most_pieces = 2
+ most_pieces = 1.5
car.toml:74: place[2].most_pieces: 1.5 is not a whole number: write a whole number

## travel without the present position
- perch_travel = [-8, 10]
+ perch_travel = [2, 10]
car.toml:16: front.perch_travel: [2, 10] leaves out where the perch stands now: count from there: turns left down (≤ 0), then up (≥ 0)

## travel the wrong way round
- perch_travel = [-8, 10]
+ perch_travel = [10, -8]
car.toml:16: front.perch_travel: 10 is above -8: give turns left down (≤ 0), then up (≥ 0)

## travel as one number
- perch_travel = [-8, 10]
+ perch_travel = 10
car.toml:16: front.perch_travel: 10 is not a list in brackets: write a list in brackets

## a step of zero
- perch_step = 0.25
+ perch_step = 0
car.toml:15: front.perch_step: 0 turns is out of reason: expected 0.01 to 4 turns

## a step of one by nothing
- perch_step = 0.25
+ perch_step = "1/0"
car.toml:15: front.perch_step: “1/0” is not a fraction of a turn: write 0.25 or "1/6"

## a step in words
- perch_step = 0.25
+ perch_step = "quarter"
car.toml:15: front.perch_step: “quarter” is not a fraction of a turn: write 0.25 or "1/6"

## a fraction without quotes
- perch_step = 0.25
+ perch_step = 1/4
car.toml:15: no quotes around a fraction in “perch_step = 1/4”: write perch_step = "1/4"

## a step that is nan
- perch_step = 0.25
+ perch_step = nan
car.toml:15: front.perch_step: nan is not a number: give its true value

## a step but no thread
- perch_lead = 1.5
+
car.toml:15: front.perch_step: given, but LF and RF have no perch_lead: give perch_lead too
car.toml:16: front.perch_travel: given, but LF and RF have no perch_lead: give perch_lead too

## a place outside the car
- aft = 2480
+ aft = 5480
car.toml:70: place[2].aft: “battery shelf” is outside the car: expected -1600 to 4005 mm

## a place off the side
- left = -310
+ left = -1310
car.toml:71: place[2].left: “battery shelf” is outside the car: expected -975 to 975 mm

## a range backward
- aft = [1050, 1450]
+ aft = [1450, 1050]
car.toml:63: place[1].aft: 1450 is above 1050: give the lowest first

## a band backward
- front_pct = [52, 54.5]
+ front_pct = [54.5, 52]
car.toml:59: class.front_pct: 54.5 is above 52: give the lowest first

## a share as a fraction
- front_pct = [52, 54.5]
+ front_pct = 0.52
car.toml:59: class.front_pct: 0.52 looks like a fraction: write 52, in percent

## two places of one name
- name = "battery shelf"
+ name = "passenger floor"
car.toml:69: place[2].name: “passenger floor” is there twice: give each its own name

## two items of one name
- name = "spare wheel"
+ name = "driver"
car.toml:49: on_board[2].name: “driver” is there twice: give each its own name

## race trim with a stranger
- weighed_with = ["driver"]
+ weighed_with = ["drivr", "fuel"]
car.toml:57: class.weighed_with: “drivr” is not in [[on_board]]: did you mean driver?
car.toml:57: class.weighed_with: “fuel” is not in [[on_board]]: known here: driver, spare wheel

## race trim with the driver twice
- weighed_with = ["driver"]
+ weighed_with = ["driver", "driver"]
car.toml:57: class.weighed_with: “driver” is there twice: name each once

## race trim not in a list
- weighed_with = ["driver"]
+ weighed_with = "driver"
car.toml:57: class.weighed_with: “driver” is not a list in brackets: write ["driver"]

## a wheel minimum beyond the minimum
- margin = 3
+ margin = 3
+ wheel_minimum = 400
car.toml:59: class.wheel_minimum: four times 400 kg is more than the minimum, 1090 kg: give what the rules ask of one wheel

## axle minima beyond the minimum
- margin = 3
+ margin = 3
+ axle_minimum = [600, 600]
car.toml:59: class.axle_minimum: both together are more than the minimum, 1090 kg: give what the rules ask of each axle

## a margin like a minimum
- margin = 3
+ margin = 1093
car.toml:58: class.margin: 1093 kg is more than half the minimum: give only what to be above the minimum by

## a margin to no minimum
- minimum = 1090
+
car.toml:58: class.margin: given, but there is no minimum: give minimum too

## a minimum in pounds
- minimum = 1090
+ minimum = 2400
car.toml:56: class.minimum: 2400 kg is 2.3 times the readings, in lb it fits: write 1089

## no name
- name = "Heron Lane coupe"
+ name = ""
car.toml:3: name: is blank: give it a name

## a blank name
- name = "Heron Lane coupe"
+ name = "  "
car.toml:3: name: is blank: give it a name

## a number for a name
- name = "Heron Lane coupe"
+ name = 911
car.toml:3: name: 911 is not text in quotes: write "911"

## a line break in a name
- name = "Heron Lane coupe"
+ name = "Heron\nLane"
car.toml:3: name: “Heron\nLane” has a control character in it: leave that out

## an escape sequence in a name
- name = "passenger floor"
+ name = "\u001b[31mfloor\u0007"
car.toml:62: place[1].name: “\x1b[31mfloor\x07” has a control character in it: leave that out

## an escape sequence in a key
- wheelbase = 2405
+ wheelbase = 2405
+ "\u001b[31m" = 1
car.toml:6: "\x1b[31m": unknown key: known here: {car keys}

## one fault in every part, all told
- units = "metric"
+ units = metric
- wheelbase = 2405
+ wheelbase = -2405
- spring_rate = 70
+ spring_rat = 70
- tire_rate = 220
+ tire_rate = "2x0"
- perch_travel = [-3, 9]
+ perch_travel = [3, 9]
- repeatability = 0.4
+ repeatability = nan
- weighed_with = ["driver"]
+ weighed_with = ["diver"]
- most_pieces = 2
+ most_pieces = 2.5
- stock = 4
+ stok = 4
car.toml:4: text without quotes in “units = metric”: write units = "metric"
car.toml:5: wheelbase: -2405 is negative: leave out the minus sign
car.toml:9: front.spring_rat: unknown key: did you mean spring_rate?
car.toml:22: rear.tire_rate: “2x0” is not a number: write a number in N/mm, without quotes
car.toml:30: RR.perch_travel: [3, 9] leaves out where the perch stands now: count from there: turns left down (≤ 0), then up (≥ 0)
car.toml:39: scales.repeatability: nan is not a number: give its true value
car.toml:57: class.weighed_with: “diver” is not in [[on_board]]: did you mean driver?
car.toml:74: place[2].most_pieces: 2.5 is not a whole number: write a whole number
car.toml:82: piece[2].stok: unknown key: did you mean stock?
"""  # noqa: E501

READINGS = r"""
## three numbers
- [302.0, 288.5, 231.0, 244.0]
+ [302.0, 288.5, 231.0]
readings.toml:6: readings[1]: has 3 values: give 4: one list [LF, RF, LR, RR] each time the pads were read

## decimal commas
- [302.0, 288.5, 231.0, 244.0]
+ [302,0, 288,5, 231,0, 244,0]
readings.toml:6: readings[1]: has 8 values: give 4: one list [LF, RF, LR, RR] each time the pads were read (a decimal takes a point, not a comma)

## one list of numbers
- readings = [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+ readings = [302.0, 288.5, 231.0, 244.0]
readings.toml:6: readings: is a list of numbers: write a list of lists, [[LF, RF, LR, RR]]

## a table of corners
- readings = [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+ readings = { LF = 302, RF = 288, LR = 231, RR = 244 }
readings.toml:6: readings: is no list: write a list of lists, [[LF, RF, LR, RR]]

## no readings
- readings = [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+
readings.toml: readings: is missing: add it: one list [LF, RF, LR, RR]

## an empty list
- readings = [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+ readings = []
readings.toml:6: readings: has 0 values: give 1: one list [LF, RF, LR, RR] each time the pads were read

## an open list
-     [302.0, 288.5, 231.0, 244.0],
+     [302.0, 288.5, 231.0, 244.0
readings.toml:7: a list not as TOML has it in “[302.0, 288.5, 231.0, 244.0”: write [302.0, 288.5, 231.0, 244.0],

## a minus sign
- [302.0, 288.5, 231.0, 244.0]
+ [302.0, -288.5, 231.0, 244.0]
readings.toml:6: readings[1] RF: reads -288.5: a pad can't be pulled up: zero it and read again

## a pad at zero
- [301.5, 289.0, 231.5, 243.5]
+ [301.5, 289.0, 231.5, 0]
readings.toml:6: readings[2] RR: reads 0: is the wheel on its pad, and the pad switched on?

## nan and text
- [302.0, 288.5, 231.0, 244.0]
+ [nan, "288x5", 231.0, 244.0]
readings.toml:6: readings[1][1]: nan is not a number: give its true value
readings.toml:6: readings[1][2]: “288x5” is not a number: write a number in kg, without quotes

## pounds
- [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+ [[666, 636, 509, 538]]
readings.toml:6: readings: 2346 kg in all is 2.2 times the minimum, in lb it fits: write units = "us"

## heights in inches
- [121, 122, 131, 130]
+ [4.75, 4.8, 5.15, 5.1]
readings.toml:13: ride_heights[1]: 4.75 mm is out of reason, 4.75 in is not: write 120.6, or units = "us"
readings.toml:13: ride_heights[2]: 4.8 mm is out of reason, 4.8 in is not: write 121.9, or units = "us"
readings.toml:13: ride_heights[3]: 5.15 mm is out of reason, 5.15 in is not: write 130.8, or units = "us"
readings.toml:13: ride_heights[4]: 5.1 mm is out of reason, 5.1 in is not: write 129.5, or units = "us"

## tare of three pads
- tare = [0, 0, 1.5, 1.5]
+ tare = [0, 0, 1.5]
readings.toml:11: tare: has 3 values: give 4: what each pad shows with the car off; taken off each reading

## tare of a whole corner
- tare = [0, 0, 1.5, 1.5]
+ tare = [0, 0, 231, 1.5]
readings.toml:11: tare LR: 231 is no less than the pad with the car: give what the pad shows with the car off

## a pad half a meter up
- pad_heights = [0, 0.5, 1.0, 0]
+ pad_heights = [0, 500, 1.0, 0]
readings.toml:12: pad_heights[2]: 500 mm is out of reason: expected -100 to 100 mm

## pads that lift a wheel
- pad_heights = [0, 0.5, 1.0, 0]
+ pad_heights = [90, -90, -90, 90]
readings.toml:12: pad_heights: on level pads RR would carry nothing: check the heights, and the rates in the car file

## low on the light side
- [
-     [302.0, 288.5, 231.0, 244.0],
-     [301.5, 289.0, 231.5, 243.5],
-     [302.0, 288.0, 231.0, 244.5],
- ]
+ [[320, 270, 260, 215]]
- [121, 122, 131, 130]
+ [141, 122, 151, 130]
readings.toml:6: readings: the car stands low on the right but reads heavy on the left: are left and right swapped? If not, add order_checked = true

## a stranger on board
- on_board = ["driver"]
+ on_board = ["driver", "fuel"]
readings.toml:5: on_board: “fuel” is not in the car file: known here: driver, spare wheel

## a date without quotes
- date = 2026-05-09
+ date = May 9
readings.toml:3: text without quotes in “date = May 9”: write date = "May 9"

## a date that is a list
- date = 2026-05-09
+ date = [2026, 5, 9]
readings.toml:3: date: is not a date: write one like 2026-05-09, or text in quotes

## a key misspelled
- tare
+ tara
readings.toml:11: tara: unknown key: did you mean tare?

## order_checked in words
- date
+ order_checked = "yes"
+ date
readings.toml:3: order_checked: “yes” is not true or false: write true or false

## all told
- [302.0, 288.5, 231.0, 244.0]
+ [302.0, 288.5, 231.0]
- on_board = ["driver"]
+ on_board = ["diver"]
- note
+ notes
- tare = [0, 0, 1.5, 1.5]
+ tare = 1.5
readings.toml:4: notes: unknown key: did you mean note?
readings.toml:5: on_board: “diver” is not in the car file: did you mean driver?
readings.toml:6: readings[1]: has 3 values: give 4: one list [LF, RF, LR, RR] each time the pads were read
readings.toml:11: tare: 1.5 is not a list in brackets: write a list in brackets
"""  # noqa: E501

LINES = r"""
$ balancer wiegh coupe.toml 302 288.5 231 244
wiegh: unknown command: did you mean weigh?

$ balancer fly
fly: unknown command: known here: {commands}

$ balancer '' --json
"": unknown command: known here: {commands}

$ balancer --json weigh coupe.toml
--json: unknown option: options come after the command: balancer weigh CAR … --json

$ balancer weigh
CAR: is missing: name the file, see balancer weigh --help

$ balancer weigh no.toml 302 288.5 231 244
no.toml: no such file: check the name and the folder

$ balancer weigh "" 302 288.5 231 244
"": no such file: check the name and the folder

$ balancer weigh notes 302 288.5 231 244
notes: is a folder: name the file in it

$ balancer weigh coupe.toml/car.toml 302 288.5 231 244
car.toml: can't be read (Not a directory): check the file

$ balancer weigh weigh_in.toml 302 288.5 231 244
weigh_in.toml: is a readings file: give a car file here, and each file in its place

$ balancer weigh coupe.toml
readings: got 0 numbers: give four: LF RF LR RR, or --readings FILE

$ balancer weigh coupe.toml 302 288.5 231
readings: got 3 numbers: give four: LF RF LR RR, or --readings FILE

$ balancer weigh coupe.toml 302 288.5 231 244 10
readings: got 5 numbers: give four: LF RF LR RR, or --readings FILE

$ balancer weigh coupe.toml 302,5 288,5 231 244
LF: 302,5 has a decimal comma: write 302.5
RF: 288,5 has a decimal comma: write 288.5

$ balancer weigh coupe.toml 302, 288.5, 231, 244
LF: “302,” is not a number: write 302
RF: “288.5,” is not a number: write 288.5
LR: “231,” is not a number: write 231

$ balancer weigh coupe.toml 302,288.5,231,244
readings: “302,288.5,231,244” is one word: write four apart, without commas or quotes: LF RF LR RR

$ balancer weigh coupe.toml '302 288.5 231 244'
readings: “302 288.5 231 244” is one word: write four apart, without commas or quotes: LF RF LR RR

$ balancer weigh coupe.toml LF=302 RF=288.5 LR=231 RR=244
LF: “LF=302” is not a number: write 302
RF: “RF=288.5” is not a number: write 288.5
LR: “LR=231” is not a number: write 231
RR: “RR=244” is not a number: write 244

$ balancer weigh 302 288.5 231 244 coupe.toml
CAR: 302 is a number: the car file comes first: coupe.toml LF RF LR RR

$ balancer weigh 302 288.5 231 244
--units: is missing: say --units metric (kg) or us (lb)

$ balancer trim 302 288.5 231 244
CAR: 302 is a number: the car file comes first: CAR LF RF LR RR

$ balancer weigh coupe.toml 302 -288.5 231 244
RF: reads -288.5: a pad can't be pulled up: zero it and read again

$ balancer weigh coupe.toml 302 −288.5 231 244
RF: reads -288.5: a pad can't be pulled up: zero it and read again

$ balancer weigh coupe.toml 302 0 231 244
RF: reads 0: is the wheel on its pad, and the pad switched on?

$ balancer weigh coupe.toml nan -inf 1e999 ""
LF: nan is not a number: write a number like 310.5
RF: -inf is not a number: write a number like 310.5
LR: 1e999 is too large: write a number like 310.5
RR: “” is not a number: write a number like 310.5

$ balancer weigh coupe.toml 302 2x8 231 3O2
RF: “2x8” is not a number: write a number like 310.5
RR: “3O2” is not a number: write a number like 310.5

$ balancer weigh coupe.toml 666 636 509 538
readings: 2349 kg in all is 2.2 times the minimum, in lb it fits: write each with its unit, as 640lb

$ balancer weigh roadster.toml 250 240 230 240
readings: 960 lb in all is 0.48 times the minimum, in kg it fits: write each with its unit, as 640kg

$ balancer weigh coupe.toml 2960N 288kgs 231mm 244
LF: “N” is not a unit for this: known here: kg, lb
RF: “kgs” is not a unit for this: known here: kg, lb
LR: “mm” is not a unit for this: known here: kg, lb

$ balancer weigh coupe.toml 3.02 2.88 2.31 2.44
readings: 10.65 kg in all is no car's weight: check the four numbers

$ balancer weigh coupe.toml 3020 2885 2310 2440
readings: 10655 kg in all is no car's weight: check the four numbers

$ balancer weigh roadster.toml 1,002 540 490 510
LF: 1,002 has a comma: write 1002, or 1.002 with a point

$ balancer weigh coupe.toml -- -302 288.5 231 244
LF: reads -302: a pad can't be pulled up: zero it and read again

$ balancer weigh coupe.toml -- 302 288.5 231 244 --json
--json: is an option after --: leave out the --

$ balancer weigh coupe.toml - 288.5 231 244
LF: “-” is not a number: write a number like 310.5

$ balancer weigh coupe.toml 302 288.5 231 244 --jsn
--jsn: unknown option: did you mean --json?

$ balancer weigh coupe.toml 302 288.5 231 244 -json
-json: unknown option: did you mean --json?

$ balancer weigh coupe.toml 302 288.5 231 244 —json
—json: unknown option: did you mean --json?

$ balancer weigh coupe.toml 302 288.5 231 244 --jsn --raedings
--jsn: unknown option: did you mean --json?
--raedings: unknown option: did you mean --readings?

$ balancer weigh coupe.toml 302 288.5 231 244 --json=yes
--json: takes no value: write --json alone

$ balancer weigh coupe.toml --readings
--readings: has no value after it: give one, see balancer weigh --help

$ balancer weigh coupe.toml --readings ""
"": no such file: check the name and the folder

$ balancer weigh coupe.toml --readings no.toml
no.toml: no such file: check the name and the folder

$ balancer weigh coupe.toml --readings coupe.toml
coupe.toml: is a car file: give a readings file here, and each file in its place

$ balancer weigh coupe.toml 302 288.5 231 244 --readings weigh_in.toml
--readings: given beside typed readings: give one or the other

$ balancer weigh no.toml --readings none.toml
no.toml: no such file: check the name and the folder
none.toml: no such file: check the name and the folder

$ balancer weigh no.toml 302 x 231 -5 --jsn
--jsn: unknown option: did you mean --json?
no.toml: no such file: check the name and the folder
RF: “x” is not a number: write a number like 310.5
RR: reads -5: a pad can't be pulled up: zero it and read again

$ balancer perches coupe.toml 302 288.5 231 244 --cross 0.5
--cross: 0.5 looks like a fraction: give it in percent

$ balancer perches coupe.toml 302 288.5 231 244 --cross 50,5
--cross: 50,5 has a decimal comma: write 50.5

$ balancer perches coupe.toml 302 288.5 231 244 --cross -50
--cross: -50 is out of range: expected 20 to 80

$ balancer perches coupe.toml 302 288.5 231 244 --cross nan
--cross: nan is not a number: write a number, 20 to 80

$ balancer perches coupe.toml 302 288.5 231 244 --cross half
--cross: “half” is not a number: write a number, 20 to 80

$ balancer perches coupe.toml 302 288.5 231 244 --cross
--cross: has no value after it: give one, see balancer perches --help

$ balancer perches coupe.toml 302 288.5 231 244 --cross --json
--cross: has no value after it: give one, 20 to 80

$ balancer perches coupe.toml 302 288.5 231 244 --cross 50kg
--cross: “kg” is not a unit for this: known here: %

$ balancer perches coupe.toml 302 288.5 231 244 --cros 50
--cros: unknown option: did you mean --cross?

$ balancer perches coupe.toml 302 288.5 231 244 --loads 2000 47 48 49
--loads: loads near 2000.0, 47.0, 48.0, 49.0, so cross weight of −41.1 %, as no car stands on four wheels: check the numbers

$ balancer perches coupe.toml 302 288.5 231 244 --cross 50 --equal-fronts
--cross and --equal-fronts: more than one target: give one

$ balancer perches coupe.toml 302 288.5 231 244 --tolerance 0 --height-tolerance inf
--tolerance: 0 is out of range: expected 0.01 to 10
--height-tolerance: inf is not a number: write a number, 0.001 to 100

$ balancer perches coupe.toml 302 288.5 231 244 --height-tolerance 1kg
--height-tolerance: “kg” is not a unit for this: known here: mm, in

$ balancer perches coupe.toml 302 288.5 231 244 --loads 300 290 230
--loads: has fewer than 4 values after it: give LF RF LR RR

$ balancer perches coupe.toml 302 288.5 231 244 --loads 300 290,5 -230 0
--loads RF: 290,5 has a decimal comma: write 290.5
--loads LR: -230 is out of range: expected 1 to 5000
--loads RR: 0 is out of range: expected 1 to 5000

$ balancer perches coupe.toml 302 288.5 231 244 --keep FL
--keep: “FL” is no corner: write LF, RF, LR or RR, each after its own --keep

$ balancer perches coupe.toml 302 288.5 231 244 --raise 3 --raise LF=3,5 --raise FL=3 --raise RF=2kg
--raise: “3” is not CORNER=NUMBER: write LF=3, or RF, LR, RR, front, rear or all
--raise LF: 3,5 has a decimal comma: write 3.5
--raise: “FL=3” is not CORNER=NUMBER: write LF=3, or RF, LR, RR, front, rear or all
--raise RF: “kg” is not a unit for this: known here: mm, in

$ balancer perches coupe.toml 302 288.5 231 244 --raise LF 3
--raise: “LF” is not CORNER=NUMBER: write LF=3, or RF, LR, RR, front, rear or all

$ balancer perches coupe.toml 302 288.5 231 244 --raise LF=1000
--raise LF: a change of +1000.0 mm: at most 100.0 mm, check the units

$ balancer perches coupe.toml 302 288.5 231 244 --heights 120 120 130 130
--heights: the heights now are not known: put ride_heights in a readings file

$ balancer perches coupe.toml --readings weigh_in.toml --heights 4.8 4.8 5.1 5.1
--heights LF: a change of −116.2 mm: at most 100.0 mm, check the units
--heights RF: a change of −117.2 mm: at most 100.0 mm, check the units
--heights LR: a change of −125.9 mm: at most 100.0 mm, check the units
--heights RR: a change of −124.9 mm: at most 100.0 mm, check the units

$ balancer perches coupe.toml 302 288.5 231 244 --front 52 --left 50
--front: perches can't move the front share: only mass does: see balancer ballast
--left: perches can't move the left share: only mass does: see balancer ballast

$ balancer perches no.toml 302 x 231 -5 --cross 0.5 --tolerance x --keep QQ --front 52 --jsn
--cross: 0.5 looks like a fraction: give it in percent
--tolerance: “x” is not a number: write a number, 0.01 to 10
--keep: “QQ” is no corner: write LF, RF, LR or RR, each after its own --keep
--front: perches can't move the front share: only mass does: see balancer ballast
--jsn: unknown option: did you mean --json?
no.toml: no such file: check the name and the folder
RF: “x” is not a number: write a number like 310.5
RR: reads -5: a pad can't be pulled up: zero it and read again

$ balancer ballast coupe.toml 302 288.5 231 244 --front 0.51
--front: 0.51 looks like a fraction: give it in percent

$ balancer ballast coupe.toml 302 288.5 231 244 --front 51,5
--front: 51,5 has a decimal comma: write 51.5

$ balancer ballast coupe.toml 302 288.5 231 244 --front 54:52
--front: 54:52 runs backward: give the lower number first

$ balancer ballast coupe.toml 302 288.5 231 244 --front 52-54
--front: “52-54” is not a number: write one number, 20 to 80, or two: 48:52

$ balancer ballast coupe.toml 302 288.5 231 244 --front :
--front: “” is not a number: write one number, 20 to 80, or two: 48:52

$ balancer ballast coupe.toml 302 288.5 231 244 --front nan:x
--front: nan is not a number: write one number, 20 to 80, or two: 48:52
--front: “x” is not a number: write one number, 20 to 80, or two: 48:52

$ balancer ballast coupe.toml 302 288.5 231 244 --left 5 --minimum -1 --most nan --tolerance 11
--left: 5 is out of range: expected 20 to 80
--minimum: -1 is out of range: expected 0 to 10000
--most: nan is not a number: write a number, 0 to 10000
--tolerance: 11 is out of range: expected 0 to 10

$ balancer ballast coupe.toml 302 288.5 231 244 --tolerance 0.2
--tolerance: no single front share to be near: give one: --front PCT

$ balancer ballast coupe.toml 302 288.5 231 244 --equal-rears
--equal-rears: is no option of ballast: it belongs to balancer perches, session, springs

$ balancer check coupe.toml 302
readings: got 1 number: give four: LF RF LR RR, or --readings FILE

$ balancer check coupe.toml --raise LF=3
--raise: is no option of check: it belongs to balancer perches, session, springs
reading 1: “LF=3” is not a number: write 3

$ balancer parts coupe.toml 302 288.5 231 244
--book: is missing: give it, see balancer parts --help

$ balancer parts coupe.toml 302 288.5 231 244 --book coupe.toml
coupe.toml: is a car file: give a parts book here, and each file in its place

$ balancer lift coupe.toml weigh_in.toml
weigh_in.toml: is a readings file: give a file of lifts here, and each file in its place

$ balancer compare coupe.toml weigh_in.toml weigh_in.toml --book
--book: has no value after it: give one, see balancer compare --help

$ balancer init coupe.toml
coupe.toml: is there already: give another name, nothing was written

$ balancer init notes
notes: is there already: give another name, nothing was written

$ balancer init nowhere/car.toml
nowhere/car.toml: can't be written (No such file or directory): check the folder

$ balancer init ""
FILE: is empty: give a name, such as car.toml

$ balancer init car.toml more.toml
balancer init: got unexpected extra argument (more.toml): see balancer init --help

$ balancer init --uk
--uk: unknown option: known here: --us, --all, --name, --wheelbase, --front-track, --rear-track, --front-spring-rate, --rear-spring-rate, --front-motion-ratio, --rear-motion-ratio, --front-perch-lead, --rear-perch-lead

$ balancer schema cars
balancer schema: invalid value for '[car|readings|parts|lifts|pads]': 'cars' is not one of 'car', 'readings', 'parts', 'lifts', 'pads': see balancer schema --help

$ balancer schema --us
--us: is no option of schema: it belongs to balancer init
"""  # noqa: E501


def blocks(text: str, mark: str) -> list[tuple[str, list[str]]]:
    """Cut a table at its headings."""
    parts = text.split(f"\n{mark} ")[1:]
    return [(part.split("\n")[0], part.rstrip("\n").split("\n")[1:]) for part in parts]


def edited(base: str, lines: list[str]) -> tuple[str, str]:
    """Make the edits of a block, as in a patch; give the text and what stderr should say."""
    said: list[str] = []
    old: list[str] = []
    new: list[str] = []

    def apply(text: str) -> str:
        before, after = "\n".join(old), "\n".join(new)
        assert before in text, f"not in the example: {before}"
        return text.replace(before, after, 1)

    for line in lines:
        if line[:2].rstrip() == "-":
            if new or said:
                base, old, new = apply(base), [], []
            old.append(line[2:])
        elif line[:2].rstrip() == "+":
            new.append(line[2:])
        else:
            if old:
                base, old, new = apply(base), [], []
            said.append(line)
    return base, "\n".join(said) + "\n"


def filled(text: str) -> str:
    """Put in the lists that grow with the package."""
    known_by_name: dict[str, Iterable[str]] = {
        "commands": COMMANDS,
        "car keys": CAR_FIELDS,
        "body keys": BODY_FIELDS,
    }
    for name, known in known_by_name.items():
        text = text.replace(f"{{{name}}}", ", ".join(known))
    return text


@pytest.mark.parametrize(("title", "lines"), blocks(CAR, "##"))
def test_a_car_file(title: str, lines: list[str], run: Run, garage: Path) -> None:
    text, said = edited(COUPE.read_text(encoding="utf-8"), lines)
    (garage / "car.toml").write_text(text, encoding="utf-8")
    before = sorted(garage.rglob("*"))
    assert run("weigh", "car.toml", *GOOD) == (2, "", filled(said))
    assert sorted(garage.rglob("*")) == before


@pytest.mark.parametrize(("title", "lines"), blocks(READINGS, "##"))
def test_a_readings_file(title: str, lines: list[str], run: Run, garage: Path) -> None:
    text, said = edited(WEIGH_IN.read_text(encoding="utf-8"), lines)
    (garage / "readings.toml").write_text(text, encoding="utf-8")
    assert run("weigh", "coupe.toml", "--readings", "readings.toml") == (2, "", filled(said))


@pytest.mark.parametrize(("line", "said"), blocks(LINES, "$ balancer"))
def test_a_command_line(line: str, said: list[str], run: Run, garage: Path) -> None:
    before = sorted(garage.rglob("*"))
    assert run(*shlex.split(line)) == (2, "", filled("\n".join(said) + "\n"))
    assert sorted(garage.rglob("*")) == before


@pytest.mark.parametrize("table", [CAR, READINGS, LINES])
def test_every_line_says_where_what_and_the_way_out(table: str) -> None:
    mark = "$ balancer" if table is LINES else "##"
    for title, lines in blocks(table, mark):
        said = lines if table is LINES else [one for one in lines if one[:2].rstrip() not in "+-"]
        assert said, title
        for line in said:
            where, what, way_out = (part.strip() for part in line.split(": ", 2))
            assert where, title
            assert what, title
            assert way_out, title


CONTENTS = {
    "empty": (
        b"",
        """\
car.toml: name: is missing: add it: what the car is called
car.toml: units: is missing: add it: metric: kg, mm, N/mm, N·m/deg; us: lb, in, lb/in, lb·ft/deg
car.toml: wheelbase: is missing: add it: front axle to rear axle
car.toml: front: is missing: add it: the front axle, both corners
car.toml: rear: is missing: add it: the rear axle, both corners
""",
    ),
    "binary": (bytes(range(256)), "car.toml: is not a text file: name a TOML file\n"),
    "a picture": (
        b"\x89PNG\r\n\x1a\n",
        "car.toml:1: is not UTF-8 text: save the file as UTF-8 in the editor\n",
    ),
    "Latin-1": (
        'units = "metric"\nname = "Coupé"'.encode("latin-1"),
        "car.toml:2: is not UTF-8 text: save the file as UTF-8 in the editor\n",
    ),
    "UTF-16": (
        'name = "car"'.encode("utf-16"),
        "car.toml: is UTF-16 text: save the file as UTF-8 in the editor\n",
    ),
    "ten megabytes": (
        b"#" * 10_000_000,
        "car.toml: is larger than 400 kB: name a TOML file of a few kilobytes\n",
    ),
    "deep lists": (
        b"name = " + b"[" * 5000 + b"]" * 5000,
        "car.toml: is nested too deep: a car file needs two levels\n",
    ),
    "deep tables": (
        b"name = " + b"{a = " * 5000 + b"1" + b"}" * 5000,
        "car.toml: is nested too deep: a car file needs two levels\n",
    ),
    "a number of 5000 digits": (
        b"wheelbase = " + b"9" * 5000,
        "car.toml:1: a number without end in"
        f" “wheelbase = {'9' * 45}…”: a line reads: key = value; text goes in quotes,"
        " a remark behind #\n"
        "car.toml: name: is missing: add it: what the car is called\n"
        "car.toml: units: is missing: add it: metric: kg, mm, N/mm, N·m/deg; us: lb, in, lb/in,"
        " lb·ft/deg\n"
        "car.toml: front: is missing: add it: the front axle, both corners\n"
        "car.toml: rear: is missing: add it: the rear axle, both corners\n",
    ),
    "an open text of many lines": (
        b'name = """Heron\nunits = "metric"',
        'car.toml:1: what opens here is not closed in “name = """Heron”: close it\n',
    ),
    "a raw escape sequence": (
        b'units = "metric"\n[body]\ncg_up = \x1b[31m465\n[front',
        "car.toml:3: a control character in “cg_up = \\x1b[31m465”: write cg_up = 465\n"
        "car.toml:4: a heading not as TOML has it in “[front”: write [front]\n"
        "car.toml:4: front.track: is missing: add it: contact patch to contact patch\n"
        "car.toml: name: is missing: add it: what the car is called\n"
        "car.toml: wheelbase: is missing: add it: front axle to rear axle\n"
        "car.toml: rear: is missing: add it: the rear axle, both corners\n",
    ),
}


@pytest.mark.parametrize(("content", "said"), CONTENTS.values(), ids=CONTENTS)
def test_what_is_in_a_file(content: bytes, said: str, run: Run, garage: Path) -> None:
    path = garage / "car.toml"
    path.write_bytes(content)
    assert run("weigh", str(path), *GOOD) == (2, "", said)
    assert run("check", str(path)) == (2, "", said)


def test_crlf_moves_no_line(run: Run, garage: Path) -> None:
    path = garage / "car.toml"
    text = COUPE.read_text(encoding="utf-8").replace("wheelbase = 2405", "wheelbase = 0")
    path.write_bytes(text.replace("\n", "\r\n").encode("utf-8-sig"))
    said = "car.toml:5: wheelbase: is zero: give its true value\n"
    assert run("weigh", str(path), *GOOD) == (2, "", said)


def test_a_device_without_end(run: Run) -> None:
    said = "zero: is larger than 400 kB: name a TOML file of a few kilobytes\n"
    assert run("weigh", "/dev/zero", *GOOD) == (2, "", said)


def test_no_permission(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    # Root may read everything, so the refusal is the operating system's in name only.
    def refuse(path: object, *args: object) -> None:
        raise PermissionError(13, os.strerror(13), path)

    monkeypatch.setattr("builtins.open", refuse)
    said = "coupe.toml: can't be read (Permission denied): check the file\n"
    assert run("weigh", "coupe.toml", *GOOD) == (2, "", said)


def test_what_a_terminal_would_obey_is_spelled_out(run: Run) -> None:
    assert run("weigh", "\x1b[31m\n.toml", *GOOD) == (
        2,
        "",
        "\\x1b[31m\\n.toml: no such file: check the name and the folder\n",
    )
    assert run("weigh", "coupe.toml", "30\x1b[2J2", "\udcff288", "231", "24\u202e4") == (
        2,
        "",
        "LF: “30\\x1b[2J2” is not a number: write a number like 310.5\n"
        "RF: “\\udcff288” is not a number: write a number like 310.5\n"
        "RR: “24\\u202e4” is not a number: write a number like 310.5\n",
    )
    assert run("\x1b[31mweigh") == (
        2,
        "",
        "\\x1b[31mweigh: unknown command: did you mean weigh?\n",
    )


def test_a_note_with_an_escape_sequence_is_spelled_out(run: Run, garage: Path) -> None:
    path = garage / "readings.toml"
    path.write_text('note = "soft\\u001b[31m\\nand low"\nreadings = [[302, 288.5, 231, 244]]')
    status, out, err = run("weigh", "coupe.toml", "--readings", str(path))
    assert (status, err) == (0, "")
    assert "Weighed once.\nsoft\\x1b[31m\nand low\n" in out


def test_a_name_of_two_hundred_characters(run: Run, garage: Path) -> None:
    path = garage / "car.toml"
    text = COUPE.read_text(encoding="utf-8")
    path.write_text(text.replace("Heron Lane coupe", "ж" * 200), encoding="utf-8")
    assert run("weigh", str(path), *GOOD)[::2] == (0, "")
    path.write_text(text.replace("Heron Lane coupe", "ж" * 201), encoding="utf-8")
    said = "car.toml:3: name: has 201 characters: 200 at most\n"
    assert run("weigh", str(path), *GOOD) == (2, "", said)


def test_a_pad_far_from_the_others_is_remarked_on(run: Run) -> None:
    status, out, err = run("weigh coupe.toml 302 28 231 244")
    assert status == 0
    assert out
    assert err == "note: RF reads 28 kg, the middle of all is 238: is a digit wrong?\n"


def test_a_motion_ratio_above_one_is_remarked_on(run: Run, garage: Path) -> None:
    path = garage / "car.toml"
    text = COUPE.read_text(encoding="utf-8")
    path.write_text(text.replace("motion_ratio = 0.74", "motion_ratio = 1.1"), encoding="utf-8")
    status, out, err = run("weigh", str(path), *GOOD)
    assert status == 0
    assert out
    assert err == (
        "note: car.toml:21: rear.motion_ratio: 1.1 is above 1, which few cars have: it is spring"
        " travel / wheel travel (the inverse would be 0.909)\n"
    )


def test_the_errors_carry_their_faults() -> None:
    with pytest.raises(InputError) as raised:
        write_starter("coupe.toml", METRIC)
    (fault,) = raised.value.faults
    assert fault == (
        "coupe.toml",
        "is there already",
        "give another name, nothing was written",
    )
    assert str(raised.value) == str(fault) == ": ".join(fault)
