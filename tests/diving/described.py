"""An aircraft file with a dive, for these tests: invented, a glider of a coastal mapping crew."""

FILE = """\
format = "linkcalc.aircraft/1"
name = "Dunlin survey glider (invented)"

[supply]
voltage = "6.0 V"
internal_resistance = "40 mohm"
current_limit = "8 A"

[servos.tail]
rows = [{ voltage = "6.0 V", stall_torque = "1.6 kg·cm", no_load_speed = "0.12 s/60deg", stall_current = "1.0 A" }]
maximum_voltage = "6.6 V"

[airframe]
mass = "2.1 kg"
wing_area = "0.38 m^2"
aspect_ratio = 12
maximum_lift = 1.1
limit_load_factor = 6
cruise_speed = "15 m/s"

[airframe.elevator]
run = "elevator"
static_margin = 0.12
tail_volume = 0.45
tail_arm = "0.75 m"
trim_deflection = "-1 deg"

[airframe.drag]
[[airframe.drag.parts]]
name = "wing and tail"
wetted_area = "0.90 m^2"
length = "180 mm"
thickness_ratio = 0.09

[[airframe.drag.parts]]
name = "fuselage"
wetted_area = "0.25 m^2"
length = "1.1 m"
fineness_ratio = 11

[[airframe.drag.parts]]
name = "antenna"
frontal_area = "2 cm^2"
drag_coefficient = 1.2

[[cases]]
name = "out of a stall"
kind = "dive"
[cases.entry]
preset = "stall"
start_height = "150 m"

[[runs]]
name = "elevator"
servo = "tail"
arm = "10 mm"
horn = "11 mm"
surface = { span = "480 mm", chord = "42 mm", chord_ratio = 0.35, throw = "18 deg", mass = "12 g", mass_centre = "14 mm" }
"""


def text(*changes):
    """Return the file with something replaced, each once; a pattern may stand for the text."""
    made = FILE
    for old, new in changes:
        if isinstance(old, str):
            assert old in made
            made = made.replace(old, new, 1)
        else:
            made, count = old.subn(lambda _, new=new: new, made, count=1)
            assert count
    return made


def written(folder, *changes):
    path = folder / "dunlin.toml"
    path.write_text(text(*changes), encoding="utf-8")
    return path
