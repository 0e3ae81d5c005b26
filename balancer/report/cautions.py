"""The cautions that go with every plan that sends somebody under a car."""

PERCHES = """\
Care: put the car on stands on level ground, never work under a car on a jack.
A spring stores energy: support the car and unload the spring before turning a
perch, and lock the perch afterwards. After a height change see that nothing
binds or touches at full droop and full bump. Settle the car, then weigh again.
In doubt ask a qualified mechanic."""

BALLAST = """\
Care: ballast that comes loose kills. Fasten it as the class rules say, with the
bolts and washers they ask for, to structure and not to sheet metal, and have it
looked at. The rule book and the scrutineer decide, not this plan."""
