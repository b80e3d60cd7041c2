-- title: Peak power and torque
-- question: What peak power and torque does each calibration make at the wheels, and at which engine speed?
-- apart: platform, vehicle
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column peak_power_kw: kW, top of the median power curve over pulls, from a parabola through the bins around it
-- column at_rpm: rpm, engine speed there
-- column peak_torque_nm: N·m, top of the median curve of wheel torque referred to engine speed
-- column at_rpm_torque: rpm, engine speed there
-- column n_pulls: 1, pulls used
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column standard: -, the correction standard
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'engine_speed_rpm' AND torque_nm IS NOT NULL
),
-- include: alike
-- include: peak
described AS (
    SELECT * FROM alike WHERE pull_no = 1
)
SELECT g.platform, g.vehicle, g.calibration, round(p.peak_power_kw, 2) AS peak_power_kw, round(p.at_rpm, 0) AS at_rpm, round(p.peak_torque_nm, 1) AS peak_torque_nm,
    round(p.at_rpm_torque, 0) AS at_rpm_torque, g.pulls AS n_pulls, g.test, g.gear, g.locked, g.standard, g.left_out, g.left_out_why, nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM peak p
JOIN described g ON g.grp = p.grp
LEFT JOIN flagged f ON f.grp = p.grp
ORDER BY g.platform, g.vehicle, g.calibration
