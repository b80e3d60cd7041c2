-- title: Light and heavy on one axis
-- question: At the same share of rated power or speed, how do light and heavy engines stand against each other: load, air, boost, drive and exhaust?
-- apart: platform, vehicle
-- param axis: one of power|speed, power, -, the share of rated power or of rated speed
-- param width: number, 0.05, 1, width of the bins of it
-- column platform: -, the vehicle's platform
-- column duty: -, light or heavy
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column share: 1, the bin's middle: wheel power over rated power times driveline efficiency, or engine speed over rated speed
-- column bmep_kpa: kPa, median over pulls of the bin's mean of brake mean effective pressure
-- column specific_air_kg_kwh: kg/kWh, median over pulls of air mass flow over wheel power
-- column drive_ratio: 1, median over pulls of net drive over boost: kPa of drive per kPa of boost
-- column boost_kpa: kPa, median over pulls of boost
-- column exhaust_share: 1, median over pulls of exhaust gauge pressure over turbine inlet gauge pressure
-- column lambda_median: 1, median over pulls of lambda as a sensor reads it, else as reckoned
-- column power_kw_l: kW/L, median over pulls of wheel power over displacement
-- column torque_nm_l: N·m/L, median over pulls of torque over displacement
-- column n: 1, pulls in the bin
-- column rated_from: -, stated in vehicles.yaml, or measured: the curve's own peak
-- column drive_basis: -, what net drive stands on; NULL where it is not known
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=share y=drive_ratio by=platform,vehicle,calibration reference=1.0,1.2,1.5,2.0; line x=share y=bmep_kpa by=platform,vehicle,calibration
WITH basis_count AS (
    SELECT run_id, segment_id, coalesce(drive_basis, 'none') AS basis, count(*) AS bins FROM curves WHERE axis = 'engine_speed_rpm' AND torque_nm IS NOT NULL GROUP BY run_id, segment_id, coalesce(drive_basis, 'none')
),
basis_place AS (
    SELECT *, row_number() OVER (PARTITION BY run_id, segment_id ORDER BY CASE WHEN basis = 'none' THEN 1 ELSE 0 END, bins DESC, basis) AS place FROM basis_count
),
candidate AS (
    SELECT run_id, segment_id, basis FROM basis_place WHERE place = 1
),
-- include: alike
-- include: peak
rated AS (
    SELECT a.grp, coalesce(v.rated_power_kw * coalesce(v.driveline_efficiency_frac, 1), p.peak_power_kw) AS power_kw, coalesce(v.rated_speed_rpm, p.at_rpm) AS speed_rpm,
        CASE WHEN CASE WHEN $axis = 'power' THEN v.rated_power_kw ELSE v.rated_speed_rpm END IS NULL THEN 'measured' ELSE 'stated' END AS rated_from, v.displacement_l
    FROM alike a
    LEFT JOIN vehicles v ON v.vehicle = a.vehicle
    LEFT JOIN peak p ON p.grp = a.grp
    WHERE a.pull_no = 1
),
shared AS (
    SELECT a.grp, a.pull_no, bin_mid(CASE WHEN $axis = 'power' THEN coalesce(c.wheel_power_kw, c.bin) / r.power_kw ELSE coalesce(c.engine_speed_rpm, c.bin) / r.speed_rpm END, $width) AS share,
        CAST(c.bmep_kpa AS DOUBLE) AS bmep, CASE WHEN c.wheel_power_kw > 1 THEN CAST(c.air_kg_h AS DOUBLE) / c.wheel_power_kw END AS air,
        CASE WHEN c.drive_basis = a.basis THEN CAST(c.drive_ratio AS DOUBLE) END AS drive_ratio, CAST(c.boost_kpa AS DOUBLE) AS boost,
        CASE WHEN c.gross_drive_kpa >= 5 THEN CAST(c.exhaust_gauge_kpa AS DOUBLE) / c.gross_drive_kpa END AS exhaust, CAST(coalesce(c.lambda_ratio, c.lambda_calc_ratio) AS DOUBLE) AS lambda_value,
        c.wheel_power_kw / r.displacement_l AS power_l, c.torque_nm / r.displacement_l AS torque_l
    FROM alike a
    JOIN rated r ON r.grp = a.grp
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = CASE WHEN $axis = 'power' THEN 'wheel_power_kw' ELSE 'engine_speed_rpm' END
),
pulled AS (
    SELECT grp, pull_no, share, avg(bmep) AS bmep, avg(air) AS air, avg(drive_ratio) AS drive_ratio, avg(boost) AS boost, avg(exhaust) AS exhaust, avg(lambda_value) AS lambda_value, avg(power_l) AS power_l, avg(torque_l) AS torque_l
    FROM shared
    WHERE share IS NOT NULL
    GROUP BY grp, pull_no, share
),
answer AS (
    SELECT grp, share, quantile_of(bmep, 0.5) AS bmep, quantile_of(air, 0.5) AS air, quantile_of(drive_ratio, 0.5) AS drive_ratio, quantile_of(boost, 0.5) AS boost, quantile_of(exhaust, 0.5) AS exhaust,
        quantile_of(lambda_value, 0.5) AS lambda_value, quantile_of(power_l, 0.5) AS power_l, quantile_of(torque_l, 0.5) AS torque_l, count(*) AS n
    FROM pulled
    GROUP BY grp, share
)
SELECT g.platform, g.duty, g.vehicle, g.calibration, round(b.share, 6) AS share, round(b.bmep, 0) AS bmep_kpa, round(b.air, 3) AS specific_air_kg_kwh, round(b.drive_ratio, 3) AS drive_ratio, round(b.boost, 2) AS boost_kpa,
    round(b.exhaust, 3) AS exhaust_share, round(b.lambda_value, 3) AS lambda_median, round(b.power_l, 2) AS power_kw_l, round(b.torque_l, 1) AS torque_nm_l, b.n, r.rated_from, nullif(g.basis, 'none') AS drive_basis,
    g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
JOIN rated r ON r.grp = b.grp
ORDER BY g.platform, g.vehicle, g.calibration, b.share
