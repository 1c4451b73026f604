"""How does the torque margin of an outboard aileron fall with the speed? The glider is invented.

By hand: where the air load is nearly all of it, twice the speed needs four times the torque, so
(margin + 1) falls to about a quarter from 40 to 80 km/h.
"""

from pathlib import Path

import linkcalc

glider = linkcalc.read_aircraft(Path(__file__).with_name("sandpiper.toml"))
turn = glider.cases[0]
for kilometres in range(40, 120, 20):
    faster = linkcalc.replace(turn, speed=f"{kilometres} km/h")
    report = linkcalc.check(linkcalc.replace(glider, cases=[faster]))
    torque = report.runs[0].cases[0].margin("torque")
    print(f"{kilometres:4d} km/h  {torque.margin:+6.2f}  plain {torque.plain:+6.2f}")
