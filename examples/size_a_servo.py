"""Which of three servos will move this elevator? The numbers are invented.

By hand: 30 m/s at 1.225 kg/m^3 are 551 Pa; with 0.4 m x 0.04 m of surface, -0.9 /rad and 15
degrees the hinge moment is 551 x 0.016 x 0.04 x 0.9 x 0.2618 = 0.083 N·m = 0.85 kg·cm. The
linkage is a parallelogram, so the servo feels all of it, and a ninth more for friction: 0.94
kg·cm, which 1.25 x 1.2 of safety make 1.41 kg·cm on the datasheet.
"""

import linkcalc

known = linkcalc.HingeMomentCoefficients(C_h_alpha="-0.4 1/rad", C_h_delta="-0.9 1/rad")
surface = linkcalc.ControlSurface(span="40 cm", chord="4 cm", throw="15 deg", coefficients=known)
linkage = linkcalc.Linkage(
    surface=surface,
    arm=linkcalc.ServoArm(radius="10 mm"),
    horn=linkcalc.ControlHorn(radius="10 mm"),
)
supply = linkcalc.Supply(voltage="6.0 V", current_limit="5 A")
case = linkcalc.FlightCase(
    name="turn", kind="manoeuvre", speed="30 m/s", density="1.225 kg/m^3", incidence="0 deg"
)
for torque in ("1.3 kg·cm", "1.6 kg·cm", "2.0 kg·cm"):
    row = linkcalc.DatasheetRow(
        voltage="6.0 V", stall_torque=torque, no_load_speed="0.1 s/60deg", stall_current="0.9 A"
    )
    run = linkcalc.ControlRun(
        name="elevator", servo=linkcalc.Servo(name=torque, rows=[row]), linkages=[linkage]
    )
    report = linkcalc.check(
        linkcalc.Aircraft(name="Dunlin", supply=supply, cases=[case], runs=[run])
    )
    print(f"{torque}: torque margin {report.runs[0].cases[0].margin('torque').margin:+.2f}")
